"""One request on one bench: whose it is, reading its form, loading, answering, sending on.

Every other subject imports from here; this imports no other subject.
"""
