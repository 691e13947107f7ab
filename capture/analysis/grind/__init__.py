"""What a grind shows so far: its headline, the next step, taper, and the machine remembered.

Entry points: `headline.headline`, `next_step.coach_of`, `what_if.played`. May import what
`capture.analysis` may.
"""
