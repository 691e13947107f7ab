"""Gauges put together at random from parts, for `trials.composed_gauges`; none is any maker's own."""
