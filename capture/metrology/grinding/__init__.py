"""A grind judged after every pass: what came off, what is to come, whether it is done.

Entry points: `judgement.judge`, `judgement.foresee`. Pure.
"""
