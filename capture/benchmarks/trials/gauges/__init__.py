"""Invented gauges for `trials.taught_gauges`: two generators of two hands; none is any maker's own."""
