"""What the computer gives: the clock, the disk, and the process that started this one.

The only modules that ask the host for the time or lock its files. May import events alone.
"""
