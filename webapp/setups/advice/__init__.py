"""What to turn, which way, how far and what to expect: one module for each thing that can be adjusted."""
