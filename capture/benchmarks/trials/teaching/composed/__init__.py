"""Gauges put together at random from parts, for `trials.composed_gauges`; none is any maker's own.

Entry points: those that `trials.composed_gauges` imports. May import dialects and `capture.teaching`.
"""
