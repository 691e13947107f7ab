"""Tables made of recordings, the same in PostgreSQL and in Parquet, and questions to a folder.

Entry points: `ask.asked`, `rows.row_of`, `jobs.job_row`. May import recordings, the state and the analysis.
"""
