"""A recording as tables for other programs.

Entry points: `tables.rows`, `files.write`, `data_package.data_package`. May import the analysis and what
lies below it.
"""
