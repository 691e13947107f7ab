"""Trials with known truth: simulated jobs by the hundred, judged, and their figures. Not in the wheel."""
