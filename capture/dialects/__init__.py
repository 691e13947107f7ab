"""What instruments say: pure readers of bytes that answer *reading* or *garbled* and never raise.

Entry point: `known.dialect_for`. May import metrology, the sheet and events.
"""
