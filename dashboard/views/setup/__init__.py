"""The home page, the job's form, the gauges, and teaching as elements of a page.

Entry points: `home`, `job.job_page`, `instruments_page.instruments_page`. May import what
`dashboard.views` may.
"""
