"""Trials of gauges placed by hand: rocked in a bore, closed on a diameter, or left lying."""
