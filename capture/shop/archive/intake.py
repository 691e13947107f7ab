"""What of the lines that came can be joined to what is there: checked by the chain, in order, each once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from msgspec import Struct

from capture.events import Event
from capture.recording.codec import BadLine, decode_event
from capture.recording.lines import HEADER, BrokenChain, ChainCheck
from capture.recording.reader import disorder

MOST_AHEAD: Final = 20000
"""How far ahead of what is held a line may be and still wait; what comes beyond is asked for again."""


class Held(Struct, frozen=True):
    """How far a recording is held."""

    next: int
    """The number of the event that comes next."""
    chain: str
    """The chain after the event before it, or after the header."""
    chained: bool = False
    """Whether a line so far carried its chain."""
    mono: int = 0
    """Nanoseconds since the recording began, of the last event."""


class Admitted(Struct, frozen=True):
    """What was made of some lines."""

    held: Held
    lines: list[tuple[Event, bytes]]
    """Those that can be added, in order."""
    ahead: list[tuple[int, bytes]]
    """Those that must wait for others before them, by number."""
    refused: list[tuple[int, bytes, str]]
    """Those that do not belong there, and why."""


class Sorted(Struct, frozen=True):
    """Lines as they came, by number; of one number there may be several, not all of them true."""

    header: list[bytes]
    events: dict[int, list[tuple[Event, bytes]]]
    refused: list[tuple[int, bytes, str]]


def sort(lines: Iterable[bytes]) -> Sorted:
    """*lines* by their numbers."""
    found = Sorted([], {}, [])
    for line in lines:
        if line.startswith(b'{"format":'):
            found.header.append(line)
            continue
        try:
            event = decode_event(line)
        except BadLine as error:
            found.refused.append((HEADER, line, str(error)))
            continue
        if b"\n" in line:
            found.refused.append((event.seq, line, "a line end within a line"))
            continue
        same = found.events.setdefault(event.seq, [])
        if all(line != other for _, other in same):
            same.append((event, line))
    return found


def admit(held: Held, events: Mapping[int, list[tuple[Event, bytes]]]) -> Admitted:
    """What of *events* follows on what is held; what is there already is passed over."""
    lines: list[tuple[Event, bytes]] = []
    refused: list[tuple[int, bytes, str]] = []
    check = ChainCheck(b"", chain=held.chain, chained=held.chained)
    due, mono = held.next, held.mono
    while due in events:
        one = _first_true(check, due, mono, events[due], refused)
        if one is None:
            break
        lines.append(one)
        due, mono = due + 1, one[0].at.mono
    return Admitted(Held(due, check.chain, check.chained, mono), lines, ahead_of(due, events), refused)


def ahead_of(due: int, events: Mapping[int, list[tuple[Event, bytes]]]) -> list[tuple[int, bytes]]:
    """Those of *events* that wait for event *due*, one of each number: a false one is asked for again."""
    return [(seq, events[seq][0][1]) for seq in sorted(events) if due < seq <= due + MOST_AHEAD]


def _first_true(
    check: ChainCheck,
    due: int,
    mono: int,
    candidates: Iterable[tuple[Event, bytes]],
    refused: list[tuple[int, bytes, str]],
) -> tuple[Event, bytes] | None:
    """The first of several lines of one number that fits; of those before it the reason why not."""
    for event, line in candidates:
        why = disorder(event, due, mono)
        if not why:
            try:
                check.step(due, line)
            except BrokenChain as error:
                why = str(error)
            else:
                return event, line
        refused.append((due, line, why))
    return None
