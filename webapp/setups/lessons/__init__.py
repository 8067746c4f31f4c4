"""A lesson as a file, a hand-in, the class sheet.

The lesson and its bands are in `setups/lesson.py`, where every case asks for them.
"""
