"""Whole simulated sessions: a bore, a grind under a riding gauge, one by power, a part that turns.

Entry points: the modules. May import what `capture.simulator` may.
"""
