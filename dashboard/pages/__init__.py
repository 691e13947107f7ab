"""Answers what a browser asks of a page that is worked out on request: fit, plan, compare, papers.

Entry points: `analysis.AnalysisPages`, `compare.ComparePages`, `papers.Papers`. May import web, views and
sources.
"""
