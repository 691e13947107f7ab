"""Works out what a session shows: taper, plating plan, gauge study, next step, and what was missed.

Entry points: `summary.summary`, `plating_plan.plan`, `gauge_findings.study`, `handbook.FORMULAS`. May
import the session state, the coach, metrology, the sheet and text; never a file, a clock or a port.
"""
