"""Uncertainty budgets, their propagation, simulation and fits by least squares. Pure."""
