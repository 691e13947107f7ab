"""Roundness of a part from an indicator over turns: runs sorted by angle, and what they show.

Entry point: `roundness_findings.roundness_rows`. May import what `capture.analysis` may.
"""
