"""Benchmarks: each figure as a ratio, in one run, to the plainest thing that could do the same."""
