"""Size gauges that send all the time: held by hand or on a bench, and riding on the part.

Entry points: `hand_gauge.step_reading`, `hand_gauge.due`. May import what `capture.state` may.
"""
