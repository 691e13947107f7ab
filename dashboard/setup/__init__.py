"""Sets up a job in the browser: sheets by form, gauges in sight, a gauge taught and saved."""
