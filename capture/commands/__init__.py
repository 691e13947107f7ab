"""The commands of the command line; with `capture.cli` the only modules that print.

Entry points: `cli.main`, which finds each command by its name. May import all of capture; never the
screen.
"""
