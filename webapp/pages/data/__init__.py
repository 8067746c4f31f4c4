"""The whole bench as one file, out and in.

Nothing here is imported by another subject.
"""
