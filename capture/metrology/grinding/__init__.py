"""A grind judged after every pass: what came off, what is to come, whether it is done.

Entry points: `judgement.judge`, `judgement.foresee`. Pure: may import what the contract of
`capture.metrology` puts below it.
"""
