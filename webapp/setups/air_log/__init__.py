"""A logger's file, line by line, and the air as daily means.

Import `daily` for the means; the rest reads files.
"""
