"""The measurement arithmetic of a sliding fit: pure functions, no clock, no file, no port.

One package a subject; `units` and `message` serve all. May import events and itself alone.
"""
