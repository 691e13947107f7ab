"""Ten years of jobs: searched in the database, and what has changed over the months found.

Entry points: `search.History`, `findings.findings_of`. May import the tables.
"""
