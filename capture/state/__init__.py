"""The state of a session: events in, state out, one pure step at a time.

Entry points: `session.start`, `session.step`, `decisions.decide`; `replay.state_at_end` for a whole
recording. May import the coach, metrology, the sheet and text; never a file, a clock or a port.
"""
