"""Clearance, standard fits, conformance decisions and what a gauge can prove.

Entry points: `clearance.over_travel`, `decision.decide`, `proof.proof`, `limits.fit`. Pure.
"""
