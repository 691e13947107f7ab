"""Trials of the coach: simulated jobs ground by its advice, by habit and with the truth in sight."""
