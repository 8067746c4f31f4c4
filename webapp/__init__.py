"""Benchside: a full setup of a bass or guitar, step by step, at the workbench."""
