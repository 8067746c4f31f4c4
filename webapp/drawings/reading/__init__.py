"""How a reading is taken: the hands on the neck, the gap magnified, the neck true and as lines.

May import physics, trade, setups, and drawings' own shapes, marks and units. Pages import from here.
"""
