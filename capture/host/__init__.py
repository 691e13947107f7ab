"""What the computer gives: the clock, the disk, private files, and the process that started this one.

The only modules that ask the host for the time or lock its files. Entry points: `clock.Clock`, `disk`,
`private_files`, `parent_watch`. May import events alone.
"""
