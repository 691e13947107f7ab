"""Trials of passes that nobody enters: found from infeed gauges, sizes and the power of the drive."""
