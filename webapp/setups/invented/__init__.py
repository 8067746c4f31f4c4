"""The demo's two years: invented instruments, an invented room, an owner who reads and turns.

Import `story`.
"""
