"""One module per check: each turns the case into that check's state; `assess` calls them in order."""
