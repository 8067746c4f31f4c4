"""What the neck does by itself through the seasons, in sums and in words, and what is due.

Import `drift` and `due`.
"""
