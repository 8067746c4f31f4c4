"""What is kept, and how: the only part that knows SQL."""
