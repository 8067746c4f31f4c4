"""An instrument's past and its seasons.

`season` and `history` are for other subjects too.
"""
