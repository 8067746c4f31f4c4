"""The command line: what can be typed after `benchside`, and what a start needs of the computer.

From outside, only `cli.main` is called; it puts everything else together.
"""
