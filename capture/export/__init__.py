"""A recording as tables for other programs."""
