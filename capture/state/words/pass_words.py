"""What a person says of passes: ``pass``, ``pass 0.004``, ``pass 0.004 x3 rest 2``, ``rest 2``.

It may be said before the reading of the pass or after it, twice, or late. A pass that is known already, by
the infeed gauge or since its place was measured again, is not a pass more: the word then says which it is of.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from msgspec.structs import replace

from capture.events import MOST_PASSES, Event, Pass, Reject
from capture.state import session
from capture.state.grinding import infeed_gauge
from capture.state.grinding.found_passes import ALIKE, infeeds_of, not_entered
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from capture.state.stations import last_of
from capture.state.words.command_words import CommandRejected, exactly, millimetres
from capture.state.words.late_word import LATELY, is_late
from capture.text import lengths
from capture.text.command_replies import TAKEN_BACK

LARGEST_INFEED: Final = 1.0
"""mm on diameter; more in one pass is a slip of the finger (common practice, no source)."""
ENOUGH: Final = 0.5
"""Of the usual time from size to size that a pass takes at the least, where nothing else shows it."""
AGAIN: Final = 0.25
"""Of the usual time from size to size within which the same words are the same pass, said again."""
AT_ONCE: Final = 3.0
"""Seconds within which they are, where that time is not known yet (common practice, no source)."""
TWO: Final = 2
QUICKEST: Final = 4.0
"""Seconds from a size to the word of the next pass under which times tell nothing: the beat is a second."""
SOON: Final = 0.15
"""Share of the time since the newest size within which they are, then."""

USAGE: Final = {
    "pass": (
        "pass [INFEED] [xN] [rest [N]]: the wheel has passed; infeed as the dial shows it (0: none; nothing: "
        "not known); x3: three times; rest 2: then twice without infeed"
    ),
    "rest": "rest [N]: the wheel has passed without infeed, once or N times",
    "merge": "merge: the newest two passes were one, such as a feed with a stop half way",
}

_TIMES = re.compile(r"[x×*]([0-9]+)|([0-9]+)[x×*]", re.IGNORECASE)


def parse_pass(words: list[str], state: State) -> Pass:
    """``pass …``: what was said, and of which pass where that is known already.

    Raises:
        CommandRejected: The words are no pass.
    """
    rests, words = _rests(words)
    times, words = _times(words)
    exactly(words, 0, 1, "pass", USAGE["pass"])
    if words:
        return _placed(Pass(_infeed(words[0], state), times=times, rests=rests), state)
    if rests and times == 1:
        return _placed(Pass(0.0, times=rests), state)
    return _placed(Pass(_by_gauge(state), times=times, rests=rests), state)


def parse_rest(words: list[str], state: State) -> Pass:
    """``rest [N]``: passes without infeed.

    Raises:
        CommandRejected: The words are no number of passes.
    """
    exactly(words, 0, 1, "rest", USAGE["rest"])
    return _placed(Pass(0.0, times=_count(words[0], "rests") if words else 1), state)


def parse_merge(words: list[str], state: State) -> Pass | Reject:
    """``merge``: the newest pass was a part of the one before; what was fed for both was fed for one.

    Of three and more alike that stand in one fact, those that are left share what was fed.

    Raises:
        CommandRejected: There are no two passes, or a person has said the newest: `undo` takes that back.
    """
    exactly(words, 0, 0, "merge", USAGE["merge"])
    facts = [one for one in state.history if _is_pass(one.event) and one.event.seq not in state.aside]
    if not facts or len(state.grind.strokes) < TWO:
        raise CommandRejected("merge: there are no two passes to make one of")
    seq = facts[-1].event.seq
    newest = _as_amended(facts[-1].event, state)
    if len(newest.infeeds) == 1:
        if facts[-1].event.source != session.PROGRAM:
            raise CommandRejected("merge: you said the newest pass yourself: take it back with undo")
        return Reject(seq, f"{TAKEN_BACK}it was one with the pass before", undo=True)
    if newest.rests:
        return replace(newest, rests=newest.rests - 1, of=seq, counted=True)
    left = newest.times - 1
    infeed = None if newest.infeed is None else round(newest.infeed * newest.times / left, 6)
    return replace(newest, infeed=infeed, times=left, of=seq, counted=True)


def _is_pass(event: Event) -> bool:
    return isinstance(event.fact, Pass) and event.fact.of is None


def _as_amended(event: Event, state: State) -> Pass:
    """The passes of *event* as they count by the newest word about them."""
    rows = [row for row in state.grind.passes if row.seq == event.seq]
    made = event.fact
    if not isinstance(made, Pass):
        raise TypeError("an event of passes is due")
    rests = 0
    while rests < len(rows) - 1 and rows[-1 - rests].infeed == 0.0 and rows[0].infeed != 0.0:
        rests += 1
    return Pass(rows[0].infeed, times=len(rows) - rests, rests=rests) if rows else made


def _rests(words: list[str]) -> tuple[int, list[str]]:
    at = next((n for n, word in enumerate(words) if word.lower() in {"rest", "rests"}), None)
    if at is None:
        return 0, words
    if at + 1 < len(words) and words[at + 1].isdecimal():
        return _count(words[at + 1], "rests"), words[:at] + words[at + 2 :]
    return 1, words[:at] + words[at + 1 :]


def _times(words: list[str]) -> tuple[int, list[str]]:
    for at, word in enumerate(words):
        found = _TIMES.fullmatch(word)
        if found is not None:
            return _count(found[1] or found[2], "passes"), words[:at] + words[at + 1 :]
    return 1, words


def _count(word: str, what: str) -> int:
    if not word.isdecimal() or not 1 <= int(word[:9]) <= MOST_PASSES:
        raise CommandRejected(f"{what}: came {word!r}, due 1 to {MOST_PASSES}")
    return int(word)


def _infeed(word: str, state: State) -> float:
    fed = millimetres(word, "infeed", state.job)
    if state.job.grinder is not None and state.job.grinder.dial == "radius":
        fed *= 2
    if abs(fed) > LARGEST_INFEED:
        raise CommandRejected(
            f"infeed: came {word}, {lengths.size(fed, state.job.units)} on diameter, due at most "
            f"{lengths.size(LARGEST_INFEED, state.job.units)} a pass"
        )
    return fed


def _by_gauge(state: State) -> float | None:
    """Infeed of the pass that is meant, by the infeed gauge; None where there is none."""
    if state.infeed.path is None:
        return None
    made, entered = _made(state), infeeds_of(session.reported_passes(state))
    left = not_entered(made, entered, _near(state))
    return left[0] if left else 0.0


def _made(state: State) -> list[float | None]:
    """Infeeds since the newest size, by the infeed gauge, mm on diameter."""
    found = infeed_gauge.counted(state.infeed, state.job, state.at, state.at.seconds)
    by = infeed_gauge.factor(state.job)
    return [None if one.infeed is None else round(one.infeed * by, 6) for one in found.passes]


def _near(state: State) -> float:
    step = state.infeed.path.step if state.infeed.path is not None else 0.0
    return max(ALIKE * step * infeed_gauge.factor(state.job), 1e-3)


def _placed(said: Pass, state: State) -> Pass:
    """*said*, with the pass that it is of where that pass is known already."""
    entered = session.reported_passes(state)
    if not entered and (with_rests := _late_rests(said, state)) is not None:
        return with_rests
    of = _of_entered(said, entered, state) if entered else _of_found(said, state)
    if of is None:
        return said
    infeed = of.infeed if said.infeed is None else said.infeed
    return replace(said, infeed=infeed, of=of.seq)


def _of_entered(said: Pass, entered: Sequence[Pass], state: State) -> PassRow | None:
    """The pass entered before, if this is only the same word again."""
    row, newest = state.grind.row, _newest_word(state)
    if row is None or newest is None or entered[-1].infeeds != said.infeeds or row.seq != newest.seq:
        return None
    both = len(infeeds_of([*entered, said]))
    made = _made(state) if state.infeed.path is not None else []
    if made:
        return row if both > len(made) else None
    sized, cycle = state.infeed.sized, state.infeed.cycle
    if sized is None:
        return None
    since = state.at.seconds - sized
    if cycle is None:
        soon = state.at.seconds - newest.at.seconds
        return row if soon < AT_ONCE and soon < SOON * since else None
    # as many passes as there was time for
    one = state.infeed.pace.one if state.infeed.pace is not None else ENOUGH * cycle
    return row if both > 1 + round(max(since - cycle, 0.0) / one) else None


def _newest_word(state: State) -> Event | None:
    words = (entry.event for entry in reversed(state.history) if isinstance(entry.event.fact, Pass))
    return next((event for event in words if event.seq not in state.aside), None)


def _of_found(said: Pass, state: State) -> PassRow | None:
    """The pass whose reading was taken already, if *said* is of that one."""
    row, size = state.grind.row, last_of(state.stations.taken, "shaft")
    if row is None or size is None or not state.grind.strokes:
        return None
    since, cycle = state.at.seconds - size.at.seconds, state.infeed.cycle
    soon = cycle is None or since < ENOUGH * cycle
    if state.infeed.path is not None:
        new = [infeed for infeed in said.infeeds if infeed != 0.0]
        still = infeed_gauge.stands_in(state.infeed)
        made, near = _made(state), _near(state)
        left = not_entered(made, infeeds_of(session.reported_passes(state)), near)
        if made and is_late(said, row, left, near, state):
            return row
        # what was fed before cannot be the pass that is made now, if the head stands where it stood
        return _alike(said, state) if not made and (soon or not still or new) else None
    if row.named:
        again = cycle is not None and since < AGAIN * cycle
        return row if again and len(state.infeed.cycles) > 1 and said.infeeds == (row.infeed,) else None
    if row.found:
        return row if soon else None
    return row if said.infeeds == (row.infeed,) and _too_soon(row, since, state) else None


def _late_rests(said: Pass, state: State) -> Pass | None:
    """The pass before the newest size with the rests that *said* tells of it; None where none are its own.

    Who tells what is fed, and now a rest before the feed that was made since, tells one of before that feed.
    """
    row = state.grind.row
    if row is None or row.found or state.infeed.path is None or any(one != 0.0 for one in said.infeeds):
        return None
    made = _made(state)
    word = _newest_word(state)
    if not made or 0.0 in made or word is None or not isinstance(word.fact, Pass):
        return None
    entered = word.fact
    if row.seq != (word.seq if entered.of is None else entered.of) or not entered.infeed:
        return None
    rests = entered.rests + len(said.infeeds)
    return replace(entered, rests=rests, of=row.seq) if rests <= MOST_PASSES else None


def _too_soon(row: PassRow, since: float, state: State) -> bool:
    """Whether a person who tells a pass when it is over has had no time for another since its reading."""
    sizes = [reading.at.seconds for reading in state.stations.taken if reading.part == "shaft"]
    before = max((at for at in sizes if at < row.at.seconds), default=None)
    after = min((at for at in sizes if at >= row.at.seconds), default=None)
    if before is None or after is None or not since:  # nothing came since: it may be long ago
        return False
    grinding = row.at.seconds - before
    if grinding < QUICKEST:
        return False
    return after - row.at.seconds < ENOUGH * grinding and since < ENOUGH * grinding


def _alike(said: Pass, state: State) -> PassRow | None:
    """The newest pass with the infeed that was said, of those made lately."""
    for row in reversed(state.grind.passes[-LATELY:]):
        if row.infeed is None or said.infeed is None or abs(row.infeed - said.infeed) <= _near(state):
            return row
    return None
