"""Bore gauges: turning points, their agreement, tilt and centring, and what a lap takes off.

Entry points: `turning_point.turning_point`, `agreement.agreed`, `lapping.guidance`. Pure: may import what
the contract of `capture.metrology` puts below it.
"""
