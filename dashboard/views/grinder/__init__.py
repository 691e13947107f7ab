"""The operator's page at the grinder: verdict, next step, size, passes, places, slope.

Entry points: `contents.grinding`, `page.grinding_page`. May import what `dashboard.views` may.
"""
