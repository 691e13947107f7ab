"""Works out the fit of two measured parts, with its uncertainty and its decision.

Entry point: `findings.fit`. May import what `capture.analysis` may.
"""
