"""Each figure as a ratio, in one run, to the plainest thing that could do the same.

Entry point: the command `bench`. May import all of capture but the commands.
"""
