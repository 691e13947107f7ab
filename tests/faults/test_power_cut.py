"""A power cut: what was synced stays, of what was not any sector may be missing and the end may be torn."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.events import Event, Instant, Reading
from capture.host.clock import Clock
from capture.recording.opening import create, resume
from capture.recording.reader import read
from capture.recording.repair import check

SECTOR = 512
JOB = {"job": {"name": "Jig-borer spindle sleeve"}}


def readings(first: int, count: int) -> list[Event]:
    return [
        Event(n, Instant(n, n), "mike", Reading(55.0 + n / 1000, "mm", 3, f"{55 + n / 1000:.3f}\r\n"))
        for n in range(first, first + count)
    ]


@settings(max_examples=150)
@given(
    synced=st.integers(0, 20),
    unsynced=st.integers(1, 40),
    missing=st.sets(st.integers(0, 20)),
    torn=st.integers(0, 9000),
)
def test_what_was_synced_before_a_power_cut_is_there_after_it(
    tmp_path_factory: pytest.TempPathFactory, synced: int, unsynced: int, missing: set[int], torn: int
) -> None:
    path = tmp_path_factory.mktemp("power") / "session.jsonl"
    recorder = create(path, JOB, Clock.start())
    assert recorder.append(readings(0, synced))
    safe = path.stat().st_size
    assert recorder.append(readings(synced, unsynced))
    recorder.close()
    disk = bytearray(path.read_bytes())
    for sector in missing:
        start = max(safe, (safe // SECTOR + sector) * SECTOR)
        end = min(len(disk), (safe // SECTOR + sector + 1) * SECTOR)
        if start < end:
            disk[start:end] = bytes(end - start)
    path.write_bytes(disk[: max(safe, len(disk) - torn)])

    recorder, _ = resume(path, JOB, Clock.start())
    kept = recorder.due
    assert kept >= synced
    assert recorder.append(readings(kept, 2))
    recorder.close()

    assert list(read(path)) == readings(0, kept + 2)
    assert check(path) == []
