"""What the computer gives: the clock, the disk, private files, and the process that started this one.

The only modules that ask the host for the time or lock its files. May import events alone.
"""
