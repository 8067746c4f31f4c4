"""Days of air, and imports of loggers' files on their way.

Import `days` and `imports`.
"""
