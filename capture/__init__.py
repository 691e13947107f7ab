"""Reads gauges into a durable recording, and works out what a sliding fit needs.

Entry point: `cli.main`; each room names its own. Never imports the screen; the rooms may import only those
below them, as the contracts of `pyproject.toml` lay down.
"""

__version__ = "0.1.0"
