"""The whole instrument, to scale: lying, standing, with its places marked, ringed or boxed.

May import trade, setups' words and slots, and drawings' own shapes, marks and units. Pages import from here.
"""
