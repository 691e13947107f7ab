"""Fit, plan, comparison, readings and record as elements of a page.

Entry points: `pages.PAGES`. May import what `dashboard.views` may.
"""
