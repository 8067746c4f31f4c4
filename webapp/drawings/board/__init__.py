"""Across the strings: the section over a fret, the board with its notes, the clearance map.

May import physics, trade, setups, and drawings' own shapes, marks and units. Pages import from here.
"""
