"""The bench and its instruments: describing one, its own page, its strings, its drawings, what is due.

Nothing here is imported by another subject but `description_reading`.
"""
