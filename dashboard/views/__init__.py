"""The screen's pages, each a function of state."""
