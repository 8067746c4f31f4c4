"""What a teacher shares, what a student hands in, and the class sheet.

Nothing here is imported by another subject.
"""
