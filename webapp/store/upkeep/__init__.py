"""Looking after the data while nothing serves it: doctor, restore, move.

The command imports these; the engine never does.
"""
