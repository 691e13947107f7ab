"""The steps beside the measuring: lapping, clamping, plating, the part that came back, trial assembly.

Entry points: `job_steps.steps_of`, `plating_plan.plan`, `received_part.received`. May import what
`capture.analysis` may.
"""
