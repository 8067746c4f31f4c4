"""A setup under way: its checks, readings, turns and questions, the journal, the report, the quick check.

`setup_drawings` is for other subjects too.
"""
