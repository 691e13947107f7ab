"""The history as it stands: without what was set aside, and with what was said of passes afterwards.

A person may say after a reading what infeed its pass had, or that there was a pass that nobody knew of. What
was taken since keeps its place: the number of its pass is put right.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from msgspec.structs import replace

from capture.events import Event, Pass, Reject, Taken
from capture.state.stations import HistoryEntry


class _Renumbering(NamedTuple):
    """What was taken from event *first* on and before *until* has *by* passes more before it."""

    first: int
    until: int
    by: int


def aside_of(history: Iterable[HistoryEntry]) -> frozenset[int]:
    """The events set aside by rejections that have not themselves been set aside."""
    rejections = [told.event for told in history if isinstance(told.event.fact, Reject)]
    aside: set[int] = set()
    for event in reversed(rejections):
        if event.seq not in aside and isinstance(event.fact, Reject):
            aside.add(event.fact.of)
    return frozenset(aside)


def standing(history: Iterable[HistoryEntry], aside: frozenset[int], program: str) -> Iterator[HistoryEntry]:
    """What stands of *history*, in order; *program* is the source of the program's own events."""
    entries = list(history)
    words = _words(entries, aside)
    moved = [*_by_words(entries, words, program), *_by_rejections(entries, aside, program)]
    for entry in entries:
        event = entry.event
        if event.seq in aside or _rests_on(event, aside) or event.seq in words.seqs:
            continue
        if isinstance(event.fact, Pass):
            newest = words.passes.get(_key(entry))
            yield entry if newest is None else _said(entry, newest, program)
        elif isinstance(event.fact, Taken):
            for word in words.before.get(event.seq, ()):
                yield HistoryEntry(replace(word.event, at=event.at), entry.warmth)
            by = sum(one.by for one in moved if one.first <= event.seq < one.until)
            yield entry if not by else _renumbered(entry, event.fact, by)
        else:
            yield entry


class _Words(NamedTuple):
    seqs: frozenset[int]
    """Words that only say more of something else."""
    passes: Mapping[int, HistoryEntry]
    """The newest word about a pass, by the pass's place in memory: a replay gives several one number."""
    before: Mapping[int, list[HistoryEntry]]
    """Passes that were made before a reading was taken, by the number of the taken reading."""


def _key(entry: HistoryEntry) -> int:
    return id(entry)


def _words(entries: list[HistoryEntry], aside: frozenset[int]) -> _Words:
    passes = {e.event.seq: e for e in entries if isinstance(e.event.fact, Pass) and e.event.fact.of is None}
    taken = {e.event.seq for e in entries if isinstance(e.event.fact, Taken)}
    seqs: set[int] = set()
    newest: dict[int, HistoryEntry] = {}
    before: dict[int, list[HistoryEntry]] = {}
    for entry in entries:
        fact = entry.event.fact
        if not isinstance(fact, Pass) or fact.of is None or entry.event.seq in aside:
            continue
        if fact.of in passes:
            newest[_key(passes[fact.of])] = entry
        elif fact.of in taken:
            before.setdefault(fact.of, []).append(entry)
        else:
            continue
        seqs.add(entry.event.seq)
    return _Words(frozenset(seqs), newest, before)


def _by_words(entries: list[HistoryEntry], words: _Words, program: str) -> Iterator[_Renumbering]:
    targets = {e.event.seq: e for e in entries if isinstance(e.event.fact, Pass) and e.event.fact.of is None}
    numbers: dict[int, int] = {}
    for entry in entries:
        fact = entry.event.fact
        if entry.event.seq in words.seqs and isinstance(fact, Pass) and fact.of is not None:
            target = targets.get(fact.of)
            number = len(fact.infeeds) if target is None else len(_made(target, fact, program).infeeds)
            before = 0 if target is None else _number(target)
            yield _Renumbering(fact.of, entry.event.seq, number - numbers.get(fact.of, before))
            numbers[fact.of] = 0 if target is None else number


def _number(entry: HistoryEntry) -> int:
    return len(entry.event.fact.infeeds) if isinstance(entry.event.fact, Pass) else 0


def _by_rejections(
    entries: list[HistoryEntry], aside: frozenset[int], program: str
) -> Iterator[_Renumbering]:
    """Passes that the program found and a person set aside after something was taken."""
    rejected = {e.event.fact.of: e.event.seq for e in entries if isinstance(e.event.fact, Reject)}
    for entry in entries:
        event = entry.event
        if event.seq in aside and event.source == program and isinstance(event.fact, Pass):
            yield _Renumbering(event.seq, rejected.get(event.seq, event.seq), -len(event.fact.infeeds))


def _said(entry: HistoryEntry, word: HistoryEntry, program: str) -> HistoryEntry:
    """A pass with what the newest word about it says."""
    if not isinstance(word.event.fact, Pass):
        return entry
    return replace(entry, event=replace(entry.event, fact=_made(entry, word.event.fact, program)))


def _made(entry: HistoryEntry, word: Pass, program: str) -> Pass:
    """What was made: the infeed gauge knows better than the word about a pass that it has found."""
    found = entry.event.fact
    if entry.event.source == program and isinstance(found, Pass) and found.infeed is not None:
        return replace(found, of=word.of)
    return word


def _renumbered(entry: HistoryEntry, taken: Taken, by: int) -> HistoryEntry:
    return replace(entry, event=replace(entry.event, fact=replace(taken, pass_=taken.pass_ + by)))


def _rests_on(event: Event, aside: frozenset[int]) -> bool:
    return isinstance(event.fact, Taken) and any(seq in aside for seq in event.fact.of)
