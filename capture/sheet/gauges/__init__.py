"""Gauges and pedals of the job sheet: their keys, the links by which they are reached, and changes in a text.

Entry points: `gauge.Gauge`, `written`, `keys`. May import what `capture.sheet` may.
"""
