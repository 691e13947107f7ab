"""Carriers of bytes: a link opens a way to an instrument and never knows what the bytes say.

Entry points: `known.wired`, `bluetooth.ble.ble`, `inbox.server.open_inbox`, `inbox.client.say`. Whatever a
library raises becomes an `OSError` with a sentence. May import dialects, the sheet, the host and events.
"""
