"""Takes readings from instruments and words from people into the recording.

Entry points: `daemon.capture` with the instruments of `instruments.instruments_of`. All concurrency is
here: one reader a gauge, one sequencer, one writer thread. May import links, dialects, the recording and
the state.
"""
