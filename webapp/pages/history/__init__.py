"""An instrument's past and its seasons.

`drift_kept` and `history` are for other subjects too.
"""
