"""Sets up a job in the browser: home, sheets by form, gauges in sight, a gauge taught and saved.

Entry points: `home_api`, `sheet_api.SheetApi`, `gauge_api.GaugeApi`. May import web, views and sources.
"""
