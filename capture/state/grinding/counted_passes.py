"""Passes that were found: counted again when the pace is known better, asked about if they are not sure.

A doubt is asked about once, after its size. It is over when a person answers or says the passes, when later
sizes make the number sure, or with the next size: nobody remembers longer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate

from msgspec import Struct
from msgspec.structs import replace

from capture.events import MOST_PASSES, Pass
from capture.metrology.grinding.stream import pass_pace
from capture.metrology.grinding.stream.pass_count import Counted
from capture.metrology.grinding.stream.pass_pace import Pace, StandWork

ENOUGH = 3
"""Counted facts from which on those before are counted again."""
SURELY = 0.9
"""How likely a number of passes must be to put right one that was found before."""
ASK_BELOW = 0.75
"""How likely it must be not to be asked about."""
COMPARED = 2
"""Stands from which on it is asked: of one alone the next ones tell soon enough."""
MOST_ASKED = 5
"""Passes in one stand beyond which nobody counts them: rather somebody was away."""
MOST = 16
"""Facts that may be counted again."""


class CountedPass(Struct, frozen=True):
    """A pass that was found, with those of the same fact."""

    seq: int
    found: Pass
    works: tuple[StandWork, ...]
    number: int
    """Passes found in these."""


class PassDoubt(Struct, frozen=True):
    """It is not sure how many passes were made before the newest size."""

    seq: int
    """Of the fact that is not sure."""
    number: int
    """Passes found since the size before, and"""
    other: int
    """as many as there may have been instead."""
    instead: Pass
    """What was made, then."""
    asked: bool = False
    denied: bool = False
    """A person has said that it was the other number."""


def counted_passes(
    found: Counted, facts: Sequence[tuple[int, Pass]], stood: StandWork | None
) -> Iterator[CountedPass]:
    """Each of *facts* with the stands that its passes were made in, where they are just its own.

    *stood*: the whole time, where the head has not moved since the last size.
    """
    if stood is not None:
        if len(facts) == 1:
            seq, fact = facts[0]
            yield CountedPass(seq, fact, (stood,), len(fact.infeeds))
        return
    works = [work for work in found.lengths if work.ending != "idle"]
    ends = list(accumulate(found.numbers))
    if not ends or ends[-1] != sum(len(fact.infeeds) for _, fact in facts):
        return
    begin = 0
    for seq, fact in facts:
        end = begin + len(fact.infeeds)
        own = [n for n, stop in enumerate(ends) if begin < stop <= end and found.numbers[n]]
        if own and sum(found.numbers[n] for n in own) == end - begin:
            yield CountedPass(seq, fact, tuple(works[n] for n in own), end - begin)
        begin = end


def recounted(counts: Sequence[CountedPass], pace: Pace | None) -> Pass | None:
    """A pass found before with the rests that belong to it, now that the *pace* is known better."""
    if pace is None or len(counts) < ENOUGH:
        return None
    for one in counts:
        held = [pass_pace.passes_in(work, pace) for work in one.works]
        more = sum(number for number, _ in held) - one.number
        # what is fed before another feed cannot be a rest after it
        alone = all(number == 1 for number, _ in held[:-1])
        if more and alone and min(sure for _, sure in held) >= SURELY and (again := _with(one, more)):
            return again
    return None


def _with(one: CountedPass, more: int) -> Pass | None:
    """The same fact with *more* passes without infeed; None where there are none such."""
    found = one.found
    times, rests = (found.times, found.rests + more)
    if found.infeed == 0.0:
        times, rests = found.times + more, found.rests
    if not 1 <= times <= MOST_PASSES or not 0 <= rests <= MOST_PASSES:
        return None
    return Pass(found.infeed, times=times, rests=rests, of=one.seq)


def doubt_of(counts: Sequence[CountedPass], number: int, lengths: Sequence[StandWork]) -> PassDoubt | None:
    """What is least sure of *counts*, found before a size after *number* passes; *lengths*: all stands."""
    if sum(one.ending != "idle" for one in lengths) < COMPARED:
        return None
    least, doubt = ASK_BELOW, None
    for one in counts:
        likely = pass_pace.likely_numbers(lengths, one.works[-1])
        held = one.number - (len(one.works) - 1)
        if likely is None or not 0 < held < len(likely) or held > MOST_ASKED or likely[held] >= least:
            continue
        more = next(n for n in reversed(likely.argsort().tolist()) if n != held) - held
        instead = _with(one, more)
        if instead is not None:
            least, doubt = float(likely[held]), PassDoubt(one.seq, number, number + more, instead)
    return doubt


def amended(counts: Sequence[CountedPass], again: Pass) -> tuple[CountedPass, ...]:
    """*counts* after a pass was put right by *again*."""
    # a replay that decides again gives several facts one number: the last of them is meant
    place = next((n for n in reversed(range(len(counts))) if counts[n].seq == again.of), None)
    if place is None:
        return tuple(counts)
    one = counts[place]
    number = one.number + len(again.infeeds) - len(one.found.infeeds)
    new = replace(one, found=replace(again, of=None), number=number)
    return (*counts[:place], new, *counts[place + 1 :])


def answered(counts: Sequence[CountedPass], doubt: PassDoubt, *, yes: bool) -> tuple[CountedPass, ...]:
    """*counts* where a person has said whether *doubt* holds as many passes as were found."""
    after = counts if yes else amended(counts, doubt.instead)
    return tuple(
        replace(new, works=(*new.works[:-1], _said(old, yes=yes))) if new.seq == doubt.seq else new
        for old, new in zip(counts, after, strict=True)
    )


def _said(one: CountedPass, *, yes: bool) -> StandWork:
    """Its last stand: those before hold one pass each."""
    held = one.number - (len(one.works) - 1)
    return one.works[-1]._replace(known=held) if yes else one.works[-1]._replace(without=held)
