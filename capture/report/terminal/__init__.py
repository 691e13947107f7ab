"""Findings as text for a terminal, in the units of the job.

Entry points: one function a module, such as `fit_text.fit_text`. May import what `capture.report` may.
"""
