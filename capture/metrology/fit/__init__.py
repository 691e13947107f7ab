"""Clearance, standard fits, conformance decisions and what a gauge can prove.

Entry points: `clearance.over_travel`, `decision.decide`, `proof.proof`, `limits.fit`. Pure: may import what
the contract of `capture.metrology` puts below it.
"""
