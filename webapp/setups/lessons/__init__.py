"""A lesson as a file and as text, a hand-in, the class sheet.

The lesson's bands are in `setups/lesson.py`, where every case asks for them.
"""
