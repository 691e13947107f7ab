"""Trials with known truth: simulated jobs by the hundred, judged, and their figures.

Entry points: `run` of each module. Not in the wheel; may import what `capture.benchmarks` may.
"""
