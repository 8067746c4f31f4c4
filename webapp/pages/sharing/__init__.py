"""Links by which others may look at one report or one history.

`linking` is for every subject that hands out a link.
"""
