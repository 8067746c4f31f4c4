"""The bench as one file: its published schema, what is wrong with a file, and the bench as tables.

Import `schema` for the models, `faults` to read one that somebody sends.
"""
