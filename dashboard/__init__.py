"""The screen: follows a recording and draws the state that is made of it.

Entry point: `python -m dashboard`. May import of capture what its import contract allows; capture never
imports it.
"""
