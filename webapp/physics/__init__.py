"""The sums: plain functions and small frozen dataclasses over floats and NumPy arrays.

Units throughout: millimetres, newtons, hertz, cents, kilograms per metre, degrees Celsius.
Nothing here reads files, opens connections or imports any other part of the application.
"""
