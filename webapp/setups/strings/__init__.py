"""What the strings weigh and pull, and where relief and saddles go with other ones.

Import `tension` first; the others build on it.
"""
