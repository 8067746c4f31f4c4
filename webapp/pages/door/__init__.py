"""Coming in: entry links, pairing codes, devices, the link to come back.

Nothing here is imported by another subject.
"""
