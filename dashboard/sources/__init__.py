"""Where scenes come from: a recording followed as it grows, played, or decided again.

Entry points: `feed.Feed`, `player.Player`, `recording_library.RecordingLibrary`. May import text and
capture's reader.
"""
