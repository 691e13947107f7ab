"""The job's form, the gauges, and teaching as elements of a page."""
