"""The archive: lines checked, stored once in PostgreSQL, acknowledged after, and asked for where they lack.

Entry points: `archive.Archive`, `database.Database`, `working.Working`. May import the messages and the
tables.
"""
