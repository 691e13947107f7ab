"""The record of a job that a customer can keep, and findings as text.

Entry points: `page.page`, `pdf.write_pdf`. May import the analysis and what lies below it.
"""
