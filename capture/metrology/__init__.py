"""The measurement arithmetic of a sliding fit: pure functions, no clock, no file, no port.

One package a subject; `units` and `message` serve all. Entry points: those of the packages. May import
events and itself alone.
"""
