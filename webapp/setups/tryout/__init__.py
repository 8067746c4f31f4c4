"""What would be: other settings tried on the belief, nothing recorded.

Each module is one question; pages import them.
"""
