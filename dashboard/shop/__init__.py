"""The shop's page: every machine live over the broker, the history from the database, a machine's own page.

Entry point: `python -m dashboard.shop`. May import the web server, views, sources, text, and capture's shop.
"""
