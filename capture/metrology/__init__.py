"""The measurement arithmetic of a sliding fit: pure functions, no clock, no file, no port."""
