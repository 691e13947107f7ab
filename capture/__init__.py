"""Reads gauges into a durable recording, and works out what a sliding fit needs."""

__version__ = "0.1.0"
