"""Uncertainty budgets, their propagation, simulation and fits by least squares.

Entry points: `budget.combined`, `monte_carlo.compare`, `least_squares.least_squares`. Pure: may import what
the contract of `capture.metrology` puts below it.
"""
