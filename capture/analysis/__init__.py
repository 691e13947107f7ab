"""Works out what a session shows: taper, plating plan, gauge study, next step, and what was missed.

Entry points: `summary.findings`, `plating_plan`, `gauge_findings`, `fit.findings`. May import the
session state, the coach, metrology, the sheet and text; never a file, a clock or a port.
"""
