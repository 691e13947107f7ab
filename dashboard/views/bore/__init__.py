"""The bore's page: the sweep in hand, the bore filling in, lapping, and what is said aloud."""
