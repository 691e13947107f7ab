"""Trials of a shop of many machines, on a real broker and a real database."""
