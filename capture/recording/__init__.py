"""The durable recording: its lines as text, read and followed, written, checked and repaired.

Entry points: `reader.read`, `reader.follow`, `writer.create`, `writer.resume`, `repair.check`. May import
events and the host.
"""
