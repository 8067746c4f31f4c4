"""Which way and how far: the dial of a screw and the part that it moves.

May import trade, setups, and drawings' own shapes, marks and units. Pages import from here.
"""
