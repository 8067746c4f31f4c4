"""Links by which others may look at one report or one history.

Nothing here is imported by another subject.
"""
