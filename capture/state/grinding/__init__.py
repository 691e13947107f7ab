"""The passes of the wheel, and the indicators on saddle and table.

Entry points: `passes.step`, `infeed_gauge.step`, `table_indicator.step`. May import what `capture.state`
may.
"""
