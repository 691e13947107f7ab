"""Fit, plan, comparison, readings and record as elements of a page."""
