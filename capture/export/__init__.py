"""A recording as tables for other programs.

Entry points: `tables.rows`, `files.write`. May import the analysis and what lies below it.
"""
