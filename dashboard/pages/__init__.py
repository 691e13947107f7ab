"""Answers what a browser asks of a page that is worked out on request: fit, plan, compare, papers."""
