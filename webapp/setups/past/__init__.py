"""What was: a setup's report and its end, an instrument's readings in time, entries in words.

Stands on the checks; seasons and lessons stand on it.
"""
