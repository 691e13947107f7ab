"""Trials of gauges that are taught, and of lines that are damaged on their way."""
