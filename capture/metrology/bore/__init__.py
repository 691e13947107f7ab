"""Bore gauges: turning points, their agreement, tilt and centring, and what a lap takes off. Pure."""
