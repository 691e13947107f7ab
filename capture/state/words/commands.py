"""A person's words into facts: ``pass 0.004``, ``station shaft 80 0``, ``reject 41 chip``, ``undo``.

Lengths are said in the job's unit, infeed in the habit of the dial, as the sheet gives both.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from capture.events import (
    AnyFact,
    Confirmation,
    Coolant,
    Dress,
    Lap,
    Master,
    Note,
    Part,
    Pause,
    Reading,
    Reject,
    Stage,
    Station,
    Table,
)
from capture.sheet.stages import NoSuchStage, stage_named
from capture.state.session import State, newest_undoable, open_question
from capture.state.steps import step_words
from capture.state.words.command_words import CommandRejected, exactly, millimetres, number
from capture.state.words.pass_words import USAGE as OF_PASSES
from capture.state.words.pass_words import parse_merge, parse_pass, parse_rest
from capture.state.words.round_words import USAGE as OF_TURNING
from capture.state.words.round_words import parse_mask, parse_round, parse_turn
from capture.state.words.typed_reading import typed
from capture.text import lengths
from capture.text.command_replies import TAKEN_BACK, said, signed

__all__ = ["USAGE", "CommandRejected", "parse_command", "source_of"]

LONGEST_TEXT = 2000
SAME_MASTER = 1e-6
"""mm within which a size that was said is the one of the certificate on the sheet."""
LARGEST_TURN = 2.0
"""mm at the indicator; a larger movement of the table is a set-up (common practice, no source)."""

USAGE = {
    "pass": OF_PASSES["pass"],
    "station": "station PART Z [ANGLE]: the next reading is of this place; alone: off the master, go on",
    "stage": (
        "stage NAME: what follows is of this stage: as found, lapped 1, lapped 2 …, stripped, plated, rough, "
        "finish, or own NAME for one of your own"
    ),
    "master": (
        "master GAUGE [SIZE [U]]: the next readings of this gauge are on the master; without them size and "
        "standard uncertainty are those of the certificate on the sheet"
    ),
    "read": "read GAUGE VALUE: a reading that was typed, by a gauge like a keyboard or by eye",
    "reject": "reject NUMBER WHY: set the reading or word of this number aside",
    "undo": "undo: set the newest word or reading aside",
    "skip": "skip [PART]: leave this place out and go to the next",
    "back": "back [PART]: one place back in the plan",
    "rest": OF_PASSES["rest"],
    "merge": OF_PASSES["merge"],
    "pause": "pause: take nothing from gauges that stream",
    "go": "go: take readings again",
    "lap": "lap [STROKES] [MINUTES min]: so much was lapped since the stage before, as lap 60 3 min",
    "table": "table [MOVED]: the swivel table was moved, as its indicator shows it (table +0.012)",
    "dress": "dress: the wheel was dressed",
    "yes": "yes: what the program asked is so; yes or …: where nothing is asked, the words after `or`",
    "no": "no: what the program asked is not so; no or …: where nothing is asked, the words after `or`",
    "coolant": "coolant on|off: coolant runs on the part from here on, or no longer does",
    "note": "note TEXT: keep this remark",
    **step_words.USAGE,
    **OF_TURNING,
}


def parse_command(words: Sequence[str], state: State) -> AnyFact:
    """The fact that *words* mean in *state*.

    Raises:
        Refused: The words are no mark, or can't be true now; the sentence says what was due.
    """
    if not words:
        raise CommandRejected("nothing said; due " + " · ".join(USAGE))
    words = _where_asked(words, state)
    verb, rest = words[0].lower(), list(words[1:])
    if verb in step_words.WORDS:
        return step_words.WORDS[verb](rest, state.job.units)
    if verb not in _MARKS:
        raise CommandRejected(f"came {words[0]!r}, due one of " + ", ".join(USAGE))
    return _MARKS[verb](rest, state)


def _where_asked(words: Sequence[str], state: State) -> Sequence[str]:
    """Of an answer with other words after `or` what counts now: one key of a pedal serves for both."""
    either = [word.lower() for word in words[:2]]
    if len(words) <= len(either) or either[0] not in {"yes", "no"} or either[1] != "or":
        return words
    return words[:1] if open_question(state) is not None else words[2:]


def _exactly(words: list[str], least: int, most: int, verb: str) -> None:
    exactly(words, least, most, verb, USAGE[verb])


def _part(word: str) -> Part:
    if word.lower() == "bore":
        return "bore"
    if word.lower() == "shaft":
        return "shaft"
    raise CommandRejected(f"part: came {word!r}, due bore or shaft")


def _station(words: list[str], state: State) -> Station:
    if not words:
        part = _part_in_hand(state)
        return _place(state, part, 0)
    _exactly(words, 2, 3, "station")
    angle = number(words[2], "angle") if len(words) > 2 else 0.0
    return Station(_part(words[0]), millimetres(words[1], "station", state.job), angle)


def _part_in_hand(state: State) -> Part:
    gauge = state.job.gauge(state.stations.mastering or "")
    if gauge is not None:
        return "bore" if gauge.part == "bore" else "shaft"
    if state.newest_gauge in state.sweeps and state.sweeps[state.newest_gauge or ""].streams:
        return "bore"
    return state.stations.taken[-1].part if state.stations.taken else "shaft"


def _place(state: State, part: Part, by: int) -> Station:
    route = state.stations.plan_of(part)
    place = route.step(route.here, by)
    if place.z is None:
        raise CommandRejected(f"the sheet plans no station of the {part}; due {USAGE['station']}")
    return Station(part, place.z, place.angle or 0.0)


def _skip(words: list[str], state: State) -> Station:
    _exactly(words, 0, 1, "skip")
    return _place(state, _part(words[0]) if words else _part_in_hand(state), 1)


def _back(words: list[str], state: State) -> Station:
    _exactly(words, 0, 1, "back")
    return _place(state, _part(words[0]) if words else _part_in_hand(state), -1)


def _pause(words: list[str], _state: State) -> Pause:
    _exactly(words, 0, 0, "pause")
    return Pause(on=True)


def _go(words: list[str], _state: State) -> Pause:
    _exactly(words, 0, 0, "go")
    return Pause(on=False)


def _lap(words: list[str], _state: State) -> Lap:
    minutes = None
    if words and words[-1].lower() in {"min", "minutes"}:
        _exactly(words, 2, 3, "lap")
        minutes = _counted(words[-2], "minutes")
        words = words[:-2]
    _exactly(words, 0, 1, "lap")
    return Lap(_counted(words[0], "strokes") if words else None, minutes)


def _counted(word: str, what: str) -> float:
    value = number(word, what)
    if value <= 0:
        raise CommandRejected(f"{what}: came {word!r}, due a number above 0")
    return value


def _table(words: list[str], state: State) -> Table:
    _exactly(words, 0, 1, "table")
    if state.job.grinder is None or state.job.grinder.swivel is None:
        raise CommandRejected("table: the sheet has no swivel: write down its pivot and its indicator first")
    if not words:
        return Table(None)
    moved = millimetres(words[0], "movement", state.job)
    if abs(moved) > LARGEST_TURN:
        raise CommandRejected(
            f"movement: came {words[0]}, {signed(moved, state.job.units)}, due at most "
            f"{lengths.size(LARGEST_TURN, state.job.units)} at a time"
        )
    return Table(moved)


def _yes(words: list[str], state: State) -> Confirmation:
    _exactly(words, 0, 0, "yes")
    return _answer(state, yes=True)


def _no(words: list[str], state: State) -> Confirmation:
    _exactly(words, 0, 0, "no")
    return _answer(state, yes=False)


def _answer(state: State, *, yes: bool) -> Confirmation:
    asked = open_question(state)
    if asked is None:
        raise CommandRejected("nothing was asked that is not answered yet")
    return Confirmation(asked.seq, yes)


def _dress(words: list[str], _state: State) -> Dress:
    _exactly(words, 0, 0, "dress")
    return Dress()


def _coolant(words: list[str], _state: State) -> Coolant:
    if len(words) != 1 or words[0].lower() not in {"on", "off"}:
        raise CommandRejected(f"coolant: came {' '.join(words) or 'nothing'!r}, due {USAGE['coolant']}")
    return Coolant(words[0].lower() == "on")


def _text(words: list[str], verb: str) -> str:
    text = " ".join(words).strip()
    if not text:
        raise CommandRejected(f"{verb}: came nothing after it, due {USAGE[verb]}")
    if len(text) > LONGEST_TEXT:
        raise CommandRejected(f"{verb}: came {len(text)} characters, due at most {LONGEST_TEXT}")
    return text


def _stage(words: list[str], state: State) -> Stage:
    name = _text(words, "stage")
    if words[0].lower() == "own" and len(words) > 1:
        return Stage(" ".join(words[1:]).strip())
    used = {entry.event.fact.name for entry in state.history if isinstance(entry.event.fact, Stage)}
    try:
        return Stage(stage_named(name, tuple(sorted(used))))
    except NoSuchStage as error:
        raise CommandRejected(f"{error} (or: stage own {name})") from None


def _read(words: list[str], state: State) -> Reading:
    _exactly(words, 2, 2, "read")
    gauge = state.job.gauge(words[0])
    if gauge is None:
        names = ", ".join(gauge.name for gauge in state.job.gauges)
        raise CommandRejected(f"gauge: came {words[0]!r}, due one of {names or 'none on the sheet'}")
    try:
        return typed(gauge, words[1])
    except ValueError as error:
        raise CommandRejected(f"value: {error}") from None


def source_of(words: Sequence[str], fact: AnyFact) -> str:
    """Who said the fact that *words* mean: the person, or the gauge whose reading was typed."""
    return words[1] if isinstance(fact, Reading) else "person"


def _note(words: list[str], _state: State) -> Note:
    return Note(_text(words, "note"))


def _master(words: list[str], state: State) -> Master:
    _exactly(words, 1, 3, "master")
    gauge = state.job.gauge(words[0])
    if gauge is None or gauge.measures not in {"diameter", "bore"}:
        names = [g.name for g in state.job.gauges if g.measures in {"diameter", "bore"}]
        raise CommandRejected(
            f"gauge: came {words[0]!r}, due one of " + (", ".join(names) or "none on the sheet")
        )
    if len(words) == 1 and gauge.master_size is None:
        raise CommandRejected(
            f"size: came none, and the sheet has no master_size for {gauge.name}; due {USAGE['master']}"
        )
    size = gauge.master_size if len(words) == 1 else millimetres(words[1], "size", state.job)
    if size is None or size <= 0:
        raise CommandRejected(f"size: came {words[1]}, due the master's size, above 0")
    if len(words) > 2:
        return Master(gauge.name, size, abs(millimetres(words[2], "uncertainty", state.job)))
    certified = gauge.master_size is not None and abs(size - gauge.master_size) <= SAME_MASTER
    known = gauge.master_expanded if certified else None
    return Master(gauge.name, size, 0.0 if known is None else known / gauge.coverage)


def _reject(words: list[str], state: State) -> Reject:
    if not words or not words[0].isdecimal():
        raise CommandRejected(f"reject: came {words[0] if words else 'nothing'!r}, due {USAGE['reject']}")
    of = int(words[0])
    if of > state.seq:
        raise CommandRejected(
            f"reject: came {of}, due the number of a reading or a word, at most {state.seq}"
        )
    if of in state.aside:
        raise CommandRejected(f"reject: {of} is already set aside")
    return Reject(of, _text(words[1:], "reject"))


def _undo(words: list[str], state: State) -> Reject:
    _exactly(words, 0, 0, "undo")
    event = newest_undoable(state)
    if event is None:
        raise CommandRejected("undo: there is nothing to take back")
    return Reject(event.seq, f"{TAKEN_BACK}{said(event.fact, state.job)}", undo=True)


_MARKS: Mapping[str, Callable[[list[str], State], AnyFact]] = {
    "pass": parse_pass,
    "rest": parse_rest,
    "merge": parse_merge,
    "station": _station,
    "stage": _stage,
    "master": _master,
    "read": _read,
    "reject": _reject,
    "undo": _undo,
    "skip": _skip,
    "back": _back,
    "pause": _pause,
    "go": _go,
    "lap": _lap,
    "table": _table,
    "yes": _yes,
    "no": _no,
    "dress": _dress,
    "coolant": _coolant,
    "note": _note,
    "round": parse_round,
    "turn": parse_turn,
    "mask": parse_mask,
}
