"""What is known of an instrument, folded from its journals by one rule.

`fold.belief_of` makes it; everything that judges or advises reads `Belief`. Imports physics, trade, and
setups' geometry and journal; nothing of checks/.
"""
