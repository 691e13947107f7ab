"""The job sheet: what is measured, with what, and what the fit must be; and the settings. Pure.

Entry points: `reader.read_sheet` for text, `job.Job` for data. May import metrology and events.
"""
