"""Lines in any order, twice, forged or missing: what is admitted is the recording and nothing else."""

from __future__ import annotations

from pathlib import Path
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from capture.recording.codec import first_chain
from capture.shop.archive.intake import Held, admit, sort

LINES = (Path(__file__).parents[3] / "recordings/bore.jsonl").read_bytes().splitlines()[:60]
HEADER, EVENTS = LINES[0], LINES[1:]
START = Held(0, first_chain(HEADER))


def forged(line: bytes) -> bytes:
    return line.replace(b'"value":0.89', b'"value":0.79')


@given(st.lists(st.integers(0, len(EVENTS) - 1), max_size=200), st.integers(0, 9))
def test_whatever_comes_and_however_often_only_the_true_order_is_admitted(order, parts):
    held, stored, waiting = START, [], []
    for part in range(parts + 1):
        came = [EVENTS[i] for i in order[part :: parts + 1]]
        done = admit(held, sort([*came, *waiting]).events)
        held, waiting = done.held, [line for _, line in done.ahead]
        stored += [line for _, line in done.lines]

    due = next((i for i in range(len(EVENTS) + 1) if i not in set(order)), 0)
    assert stored == EVENTS[:due]
    assert held.next == due


@given(st.integers(0, 2**32), st.sets(st.integers(0, len(EVENTS) - 1), max_size=20))
def test_a_forged_line_is_refused_and_the_true_one_beside_it_admitted(seed, changed):
    came = [*EVENTS, *(forged(EVENTS[i]) for i in changed)]
    Random(seed).shuffle(came)  # noqa: S311 - an order

    done = admit(START, sort(came).events)

    assert [line for _, line in done.lines] == EVENTS
    assert all(line not in EVENTS for _, line, _ in done.refused)


def test_after_a_forged_line_alone_the_recording_waits_for_the_true_one():
    came = [*EVENTS[:10], forged(EVENTS[10]), *EVENTS[11:]]
    assert forged(EVENTS[10]) != EVENTS[10]

    done = admit(START, sort(came).events)

    assert done.held.next == 10
    assert [seq for seq, _, _ in done.refused] == [10]
    assert "chain" in done.refused[0][2]


def test_rubbish_and_a_line_without_its_chain_are_refused():
    bare = EVENTS[1][: EVENTS[1].rindex(b',"chain"')] + b"}"

    sorted_lines = sort([EVENTS[0], b"\xff{", b"", b'{"seq":1}'])
    done = admit(START, sort([EVENTS[0], bare]).events)

    assert len(sorted_lines.refused) == 3
    assert (done.held.next, "no chain" in done.refused[0][2]) == (1, True)
