"""Thinking tools, which record nothing or little: clearance, what if, how low, touch by test, why it buzzes.

Nothing here is imported by another subject.
"""
