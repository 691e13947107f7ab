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
    """What was taken from one place of the history on and before another has *by* passes more before it."""

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
    for place, entry in enumerate(entries):
        event = entry.event
        if event.seq in aside or _rests_on(event, aside) or place in words.about:
            continue
        if isinstance(event.fact, Pass):
            newest = words.newest.get(place)
            yield entry if newest is None else _said(entry, newest, program)
        elif isinstance(event.fact, Taken):
            for word in words.before.get(place, ()):
                yield HistoryEntry(replace(word.event, at=event.at), entry.warmth)
            by = sum(one.by for one in moved if one.first <= place < one.until)
            yield entry if not by else _renumbered(entry, event.fact, by)
        else:
            yield entry


class _Words(NamedTuple):
    """By place in the history, since a replay that decides again gives several events one number."""

    about: Mapping[int, int]
    """Words that only say more of something else, and the place of that."""
    newest: Mapping[int, HistoryEntry]
    """The newest word about a pass."""
    before: Mapping[int, list[HistoryEntry]]
    """Passes that were made before a reading was taken."""


def _words(entries: list[HistoryEntry], aside: frozenset[int]) -> _Words:
    passes: dict[int, int] = {}
    taken: dict[int, int] = {}
    about: dict[int, int] = {}
    newest: dict[int, HistoryEntry] = {}
    before: dict[int, list[HistoryEntry]] = {}
    for place, entry in enumerate(entries):
        fact, seq = entry.event.fact, entry.event.seq
        if isinstance(fact, Taken):
            taken[seq] = place
        elif isinstance(fact, Pass) and fact.of is None:
            passes[seq] = place
        elif isinstance(fact, Pass) and fact.of is not None and seq not in aside:
            if fact.of in passes:
                about[place] = passes[fact.of]
                newest[passes[fact.of]] = entry
            elif fact.of in taken:
                about[place] = taken[fact.of]
                before.setdefault(taken[fact.of], []).append(entry)
    return _Words(about, newest, before)


def _by_words(entries: list[HistoryEntry], words: _Words, program: str) -> Iterator[_Renumbering]:
    numbers: dict[int, int] = {}
    for place, target in words.about.items():
        fact, word = entries[target].event.fact, entries[place]
        if isinstance(fact, Pass):
            number = len(_made(entries[target], word, program).infeeds)
            yield _Renumbering(target, place, number - numbers.get(target, len(fact.infeeds)))
            numbers[target] = number
        elif isinstance(word.event.fact, Pass):
            yield _Renumbering(target, place, len(word.event.fact.infeeds))


def _by_rejections(
    entries: list[HistoryEntry], aside: frozenset[int], program: str
) -> Iterator[_Renumbering]:
    """Passes that the program found and a person set aside after something was taken."""
    rejected = {e.event.fact.of: n for n, e in enumerate(entries) if isinstance(e.event.fact, Reject)}
    for place, entry in enumerate(entries):
        event = entry.event
        if event.seq in aside and event.source == program and isinstance(event.fact, Pass):
            yield _Renumbering(place, rejected.get(event.seq, place), -len(event.fact.infeeds))


def _said(entry: HistoryEntry, word: HistoryEntry, program: str) -> HistoryEntry:
    """A pass with what the newest word about it says."""
    return replace(entry, event=replace(entry.event, fact=_made(entry, word, program)))


def _made(entry: HistoryEntry, word: HistoryEntry, program: str) -> Pass:
    """What was made: the infeed gauge knows better than a person's word about a pass that it has found."""
    found, said = entry.event.fact, word.event.fact
    if not isinstance(found, Pass) or not isinstance(said, Pass):
        raise TypeError("a word about a pass and the pass are due")
    if {entry.event.source, word.event.source} == {program} or entry.event.source != program:
        return said
    return said if found.infeed is None else replace(found, of=said.of)


def _renumbered(entry: HistoryEntry, taken: Taken, by: int) -> HistoryEntry:
    return replace(entry, event=replace(entry.event, fact=replace(taken, pass_=taken.pass_ + by)))


def _rests_on(event: Event, aside: frozenset[int]) -> bool:
    return isinstance(event.fact, Taken) and any(seq in aside for seq in event.fact.of)
