"""Where a value lies between its bands: one strip, rows of strips, before and after.

May import setups' words, and drawings' own shapes, marks and units. Pages import from here.
"""
