"""The spring of machine and wheel, followed by Bayesian filtering over a grid of what may be.

Entry points: `passes.task_of`, `prediction.weigh`, `prediction.summed`. Pure: may import what the contract
of `capture.metrology` puts below it.
"""
