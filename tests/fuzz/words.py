"""Fuzzes a person's words: each line is understood or refused, and the session goes on from what it said."""

from __future__ import annotations

import json
import sys

from fuzzing import fuzz

from capture.analysis.summary import summary
from capture.events import Beat, Event, Instant, Reading
from capture.sheet.reader import read_sheet
from capture.simulator.shop import SLEEVE
from capture.state import decisions, session
from capture.state.words.commands import CommandRejected, parse_command
from capture.text.command_replies import said

JOB = read_sheet(SLEEVE.format(mike="/dev/mike", probe="/dev/probe"), "sleeve.toml")[0]
MOST = 8
"""Lines of an input."""


def target(data: bytes) -> None:
    """Say every line, with a size measured after each; raises if one fails or is refused without a word."""
    state = session.step(session.start(JOB), Event(0, Instant(0, 0), "daemon", Beat()))
    for number, line in enumerate(data.decode("utf-8", "replace").splitlines()[:MOST]):
        at = Instant((number + 1) * 10**9, (number + 1) * 10**9)
        try:
            fact = parse_command(line.split(), state)
        except CommandRejected as error:
            if not str(error).strip():
                raise RuntimeError("refused without a word") from error
            continue
        if not said(fact, JOB):
            raise RuntimeError("taken without a word")
        state, _ = decisions.step_and_decide(state, Event(state.seq + 1, at, "person", fact))
        size = Reading(55.02 - 0.001 * number, "mm", 3, f"{55.02 - 0.001 * number:.3f} mm\r\n")
        state, _ = decisions.step_and_decide(state, Event(state.seq + 1, at, "mike", size))
    json.dumps(summary(state), allow_nan=False)


if __name__ == "__main__":
    sys.exit(fuzz("words", target))
