"""Chooses the next step at the grinder: how far to feed, when to rest, wait, dress or turn the table.

Entry point: `advice.coaching_of`. May import metrology and the sheet; knows no session and no screen.
"""
