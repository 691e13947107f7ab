"""The commands, one file a room; with `capture.cli` the only modules that print."""
