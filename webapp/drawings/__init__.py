"""Drawings: geometry and readings in, plain shapes out. One template turns the shapes into SVG."""
