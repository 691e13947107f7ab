"""Gauges and masters: permissible errors, mastering, drift, repeatability and studies. Pure."""
