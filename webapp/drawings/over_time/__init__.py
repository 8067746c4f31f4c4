"""Readings through time: rows of small lines, charts, the seasons with what is ahead.

May import setups' words, bands, and drawings' own shapes, marks and units. Pages import from here.
"""
