"""Invented gauges for `trials.taught_gauges`: two generators of two hands; none is any maker's own.

Entry points: `invented.InventedGauge` and its generators. May import dialects and `capture.teaching`.
"""
