"""A whole bench out of the store, and one put into it.

Import `whole` and `merge`.
"""
