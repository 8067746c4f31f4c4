"""Why it buzzes: every cause of a buzz board against every other, over the belief.

Import `finder`; the other modules are its sums. The marks themselves are in `setups/buzz_marks.py`.
"""
