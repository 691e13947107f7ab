"""A shop of several machines: recordings published to an MQTT broker, archived in PostgreSQL, and asked.

Entry points: `publisher.Publisher`, `archive.Archive`, `database.Database`, `ask.asked`, `live.LiveShop`.
May import recordings, sessions, the analysis and what lies under them.
"""
