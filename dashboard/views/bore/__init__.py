"""The bore's page: the sweep in hand, the bore filling in, lapping, and what is said aloud.

Entry points: `contents.bore`, `page.bore_page`. May import what `dashboard.views` may.
"""
