"""The sweeps of a streaming bore gauge: placement, rocks, and readings accepted hands-free.

Entry points: `auto_accept.step_reading`, `auto_accept.due`. May import what `capture.state` may.
"""
