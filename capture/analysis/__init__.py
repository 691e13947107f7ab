"""Works out what a session shows: taper, plating plan, gauge study, next step, and what was missed.

Entry points: `summary.summary`, `gauge_findings.study`, `handbook.FORMULAS`, and those of the rooms. May
import the session state, the coach, metrology, the sheet and text; never a file, a clock or a port.
"""
