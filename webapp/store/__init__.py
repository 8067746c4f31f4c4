"""What is kept, and how: the only part that knows SQL.

Of ours it imports three modules from below, by name: the journal's entry, the checks' words, the bench file's
schema. What it hands out is theirs, a plain row, or a table's own object, let go by its session.
"""
