"""Trials of parts that turn under a gauge: lobes and chatter."""
