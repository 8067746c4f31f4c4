"""The air in the room: typed by hand, or a logger's file taken in.

Nothing here is imported by another subject.
"""
