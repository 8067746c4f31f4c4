"""Takes: asking for one, its file while it is listened to, what was heard in it, and recording that.

The sums are in physics, the child process in hearing; nothing of a take is kept but what was heard.
"""
