"""The history as it stands: without what was set aside, and with what was said of passes afterwards.

A person may say after a reading what infeed its pass had, or that there was a pass that nobody knew of. What
was taken since keeps its place: the number of its pass is put right. Where a person takes back a pass that
the program found, the head was fed all the same: the pass before it had that infeed as well, or the next one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from msgspec.structs import replace

from capture.events import Dress, Event, Pass, Reject, Stage, Taken
from capture.state.stations import HistoryEntry


class _Renumbering(NamedTuple):
    """What was taken from one place of the history on and before another has *by* passes more before it."""

    first: int
    until: int
    by: int


def aside_of(history: Iterable[HistoryEntry]) -> frozenset[int]:
    """The events set aside by rejections that have not themselves been set aside."""
    rejections = [entry.event for entry in history if isinstance(entry.event.fact, Reject)]
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
    fed = _fed_all_the_same(entries, aside, words, program)
    for place, entry in enumerate(entries):
        event = entry.event
        if event.seq in aside or _rests_on(event, aside) or place in words.about:
            continue
        if isinstance(event.fact, Pass):
            newest = words.newest.get(place)
            said = entry if newest is None else _said(entry, newest, program)
            yield from _with_more(said, fed.get(place, 0.0))
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


def _fed_all_the_same(
    entries: list[HistoryEntry], aside: frozenset[int], words: _Words, program: str
) -> Mapping[int, float]:
    """By place of a pass that stands, what was fed for passes beside it that a person took back, mm."""
    fed: dict[int, float] = {}
    for place, entry in enumerate(entries):
        event = entry.event
        if event.seq not in aside or event.source != program or not isinstance(event.fact, Pass):
            continue
        more = sum(infeed for infeed in event.fact.infeeds if infeed)
        back = _pass_at(entries, aside, words, range(place - 1, -1, -1), Taken)
        to = _pass_at(entries, aside, words, range(place + 1, len(entries)), Stage) if back is None else back
        if more and to is not None:
            fed[to] = fed.get(to, 0.0) + more
    return fed


def _pass_at(
    entries: list[HistoryEntry], aside: frozenset[int], words: _Words, places: Iterable[int], end: type
) -> int | None:
    """The first of *places* where a pass stands, before one where the wheel or the part is another."""
    for place in places:
        event = entries[place].event
        if event.seq in aside or place in words.about:
            continue
        if isinstance(event.fact, Pass):
            return place
        if isinstance(event.fact, end | Stage | Dress):
            return None
    return None


def _with_more(entry: HistoryEntry, more: float) -> Iterator[HistoryEntry]:
    """A fact of passes whose last one with infeed had *more*, mm."""
    made = entry.event.fact
    if not more or not isinstance(made, Pass) or made.infeed is None:
        yield entry
        return
    if made.times > 1:
        first = replace(made, times=made.times - 1, rests=0)
        yield replace(entry, event=replace(entry.event, fact=first))
    last = replace(made, infeed=round(made.infeed + more, 6), times=1)
    yield replace(entry, event=replace(entry.event, fact=last))


def _said(entry: HistoryEntry, word: HistoryEntry, program: str) -> HistoryEntry:
    """A pass with what the newest word about it says."""
    return replace(entry, event=replace(entry.event, fact=_made(entry, word, program)))


def _made(entry: HistoryEntry, word: HistoryEntry, program: str) -> Pass:
    """What was made: the infeed gauge knows better than a person's word about a pass that it has found."""
    found, said = entry.event.fact, word.event.fact
    if not isinstance(found, Pass) or not isinstance(said, Pass):
        raise TypeError("a word about a pass and the pass are due")
    if said.counted or {entry.event.source, word.event.source} == {program} or entry.event.source != program:
        return said
    return said if found.infeed is None else replace(found, of=said.of)


def _renumbered(entry: HistoryEntry, taken: Taken, by: int) -> HistoryEntry:
    return replace(entry, event=replace(entry.event, fact=replace(taken, pass_=taken.pass_ + by)))


def _rests_on(event: Event, aside: frozenset[int]) -> bool:
    return isinstance(event.fact, Taken) and any(seq in aside for seq in event.fact.of)
