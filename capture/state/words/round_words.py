"""Words of a part that turns under gauges: ``round shaft 140 v90 dial``, ``turn``, ``mask 40 58``."""

from __future__ import annotations

import re
from typing import Final

from capture.events import Mask, Part, Round, RoundEnd, TurnMark
from capture.sheet.job import Job
from capture.state.session import State
from capture.state.words.command_words import CommandRejected, exactly, millimetres, number

USAGE: Final = {
    "round": (
        "round PART Z SETUP [GAUGE[@ANGLE] …] [rpm=N] [turned=ANGLE] [offset=ANGLE]: the part turns "
        "under the "
        "gauge; SETUP is centres, v90 (a V of 90°, gauge opposite), saddle60 (gauge within a riding V), "
        "two-point "
        "or three-point; round done: it is over"
    ),
    "turn": "turn [ANGLE]: the once-a-turn mark comes by; with an angle: the part rests at it",
    "mask": "mask FROM TO: between these angles of the part there is a keyway or a hole",
}
_V = re.compile(r"(v|saddle)(\d+(?:[.,]\d+)?)$")
FASTEST = 3000.0
"""Turns a minute; no part is measured turning faster (common practice, no source)."""


def parse_round(words: list[str], state: State) -> Round | RoundEnd:
    """``round …``: how the part turns from here on, or that it no longer does.

    Raises:
        CommandRejected: The words do not make a run.
    """
    if [word.lower() for word in words] in (["done"], ["end"]):
        return RoundEnd()
    if len(words) < 3 or words[0].lower() not in {"bore", "shaft"}:
        raise CommandRejected(f"round: came {' '.join(words) or 'nothing'!r}, due {USAGE['round']}")
    part: Part = "bore" if words[0].lower() == "bore" else "shaft"
    z = millimetres(words[1], "place", state.job)
    contacts, angle = _setup(words[2])
    gauges, at, options = _rest(words[3:], state.job)
    gauges = gauges or _usual(part, contacts, state.job)
    return Round(
        part=part,
        z=z,
        contacts=contacts,
        gauges=tuple(gauges),
        at=tuple(at) if any(at) else (),
        v=angle,
        offset=options.get("offset", 0.0),
        turned=options.get("turned", 0.0),
        rpm=options.get("rpm"),
    )


def parse_turn(words: list[str], state: State) -> TurnMark:
    """``turn``: the mark comes by; ``turn 30``: the part rests at an angle.

    Raises:
        CommandRejected: No part turns, or the angle is none.
    """
    _under_way(state, "turn")
    exactly(words, 0, 1, "turn", USAGE["turn"])
    return TurnMark(number(words[0], "angle") if words else None)


def parse_mask(words: list[str], state: State) -> Mask:
    """``mask FROM TO``: there is a keyway or a hole.

    Raises:
        CommandRejected: No part turns, or an angle is none.
    """
    _under_way(state, "mask")
    exactly(words, 2, 2, "mask", USAGE["mask"])
    return Mask(number(words[0], "angle"), number(words[1], "angle"))


def _under_way(state: State, verb: str) -> None:
    if state.rounds.under_way(state.aside) is None:
        raise CommandRejected(f"{verb}: no part turns under a gauge; due first {USAGE['round']}")


def _setup(word: str) -> tuple[str, float]:
    lower = word.lower()
    if lower in {"centres", "centers"}:
        return "centres", 90.0
    if lower in {"two-point", "three-point"}:
        return lower, 90.0
    found = _V.match(lower)
    angle = number(found[2], "angle of the V") if found else 0.0
    if found is None or not 10 <= angle <= 170:
        raise CommandRejected(f"set-up: came {word!r}, due centres, v90, saddle60, two-point or three-point")
    return found[1], angle


def _rest(words: list[str], job: Job) -> tuple[list[str], list[float], dict[str, float]]:
    gauges: list[str] = []
    at: list[float] = []
    options: dict[str, float] = {}
    for word in words:
        key, equals, text = word.partition("=")
        if equals and key.lower() in {"rpm", "turned", "offset"}:
            options[key.lower()] = number(text, key.lower())
            continue
        name, _, angle = word.partition("@")
        gauge = job.gauge(name)
        if gauge is None or gauge.measures not in {"diameter", "bore", "runout"}:
            known = [one.name for one in job.gauges if one.measures in {"diameter", "bore", "runout"}]
            raise CommandRejected(
                f"round: came {word!r}, due one of the gauges {', '.join(known) or '(none on the sheet)'}"
            )
        gauges.append(name)
        at.append(number(angle, "angle of the gauge") if angle else 0.0)
    rpm = options.get("rpm", 1.0)
    if not 0 < rpm <= FASTEST:
        raise CommandRejected(f"rpm: came {rpm:g}, due more than 0 and at most {FASTEST:g}")
    if len(set(gauges)) < len(gauges):
        raise CommandRejected("round: one gauge came twice")
    return gauges, at, options


def _usual(part: Part, contacts: str, job: Job) -> list[str]:
    """The gauge that is meant where none was named: the only one that can be."""
    kinds = ["runout", "bore" if part == "bore" else "diameter"]
    if contacts in {"two-point", "three-point"}:
        kinds.reverse()
    for kind in kinds:
        names = [one.name for one in job.gauges if one.measures == kind]
        if len(names) == 1:
            return names
        if names:
            raise CommandRejected(f"round: which gauge: {', '.join(names)}? due {USAGE['round']}")
    raise CommandRejected("round: no gauge for it is on the sheet; due a gauge that measures runout")
