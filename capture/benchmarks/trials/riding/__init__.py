"""Trials of gauges that ride on the part while it is ground."""
