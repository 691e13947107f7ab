"""Commands at an unknown gauge: `gauges` lists and watches, `teach` learns what one sends.

Entry points: `gauges`, `teach`. May import all of `capture`.
"""
