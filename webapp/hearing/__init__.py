"""Listening to a take in a process of its own: decoding a file, hearing its notes, the answer as data.

Nothing here runs inside the web app: a file from outside may be broken or made to break things. May import
physics; from elsewhere only `answers` is used, and `apart` by others that have a process of their own.
"""
