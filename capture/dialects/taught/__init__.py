"""Formats that a dialect file describes: frames, their checks, and the numbers in lines and in bytes.

Entry points: `format_files.load` reads a dialect file, `formats.dialect` makes a dialect of its format.
May import `capture.dialects.decimal`, `capture.dialects.dialect` and events.
"""
