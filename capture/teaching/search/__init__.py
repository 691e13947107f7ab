"""The search for a format: cuts, checks, flags, places, scales and words that explain all examples. Pure.

Entry point: `formats`. May import what `capture.teaching` may.
"""
