"""What the strings weigh and pull, and where relief and saddles go with other ones.

Import `tension` first, or `string_setting` for one string as it stands.
"""
