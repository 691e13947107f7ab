"""Gauges and masters: permissible errors, mastering, drift, repeatability and studies.

Entry points: `mastering.corrected`, `gauge_study.by_variance`, `permissible_errors`. Pure: may import what
the contract of `capture.metrology` puts below it.
"""
