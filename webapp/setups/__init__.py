"""The job itself: journal, verdicts, what is out of date, what to do next. Pure functions only."""
