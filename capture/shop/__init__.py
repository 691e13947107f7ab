"""A shop of several machines: recordings published to an MQTT broker, archived in PostgreSQL, and asked.

Entry points: `publish.publisher.Publisher`, `archive.archive.Archive`, `tables.ask.asked`. May import
recordings, sessions, the analysis and what lies under them.
"""
