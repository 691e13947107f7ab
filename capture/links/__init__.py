"""Carriers of bytes: a link opens a way to an instrument and never knows what the bytes say.

Entry points: `known.wired`, `ble.ble`, `inbox.open_inbox`. Whatever a library raises becomes an `OSError`
with a sentence. May import dialects, the sheet, the host and events.
"""
