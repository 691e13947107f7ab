"""The durable recording: its lines as text, read and followed, written, checked and repaired.

Entry points: `reader.read`, `reader.follow`, `opening.create`, `opening.resume`, `repair.check`. May
import events and the host.
"""
