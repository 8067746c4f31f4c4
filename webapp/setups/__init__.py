"""The job: instrument, entries, belief, verdicts, what to do next. Pure: physics and trade in, decisions out.

`slots`, `journal`, `geometry` and `say` are the ground floor; `belief/` stands on it, `checks/` on that,
the rest on both.
"""
