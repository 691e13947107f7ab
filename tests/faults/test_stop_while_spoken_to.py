"""A capture that is told to stop while words arrive: each is answered or refused, and no traceback comes."""

from __future__ import annotations

import signal
import threading
import time

import pytest

from capture.events import Note
from capture.links.inbox.client import say
from capture.links.inbox.endpoint import NoCapture
from capture.recording.reader import read

TALKERS = 4


@pytest.mark.parametrize("sig", [signal.SIGTERM, signal.SIGINT])
def test_what_was_acknowledged_is_on_disk_and_nothing_is_said_but_that_it_stopped(tenths, job, sig):
    capture = tenths.capture(str(job))
    acknowledged: list[str] = []

    def talk(who: int) -> None:
        for number in range(10_000):
            text = f"word {who}-{number}"
            try:
                if say(["note", text], inbox=tenths.folder / capture.inbox).ok:
                    acknowledged.append(text)
            except NoCapture:
                return

    talkers = [threading.Thread(target=talk, args=(who,)) for who in range(TALKERS)]
    for talker in talkers:
        talker.start()
    patience = time.monotonic() + 20
    while len(acknowledged) < 20 and time.monotonic() < patience:
        time.sleep(0.01)
    capture.process.send_signal(sig)
    _, said = capture.process.communicate(timeout=30)
    for talker in talkers:
        talker.join(30)

    notes = {
        event.fact.text for event in read(tenths.folder / capture.recording) if isinstance(event.fact, Note)
    }
    assert len(acknowledged) >= 20
    assert set(acknowledged) <= notes
    assert capture.process.returncode == 0
    assert "Traceback" not in said
    assert "Error" not in said
