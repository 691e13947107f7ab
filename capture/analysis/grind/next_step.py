"""The coach: what to do next at the grinder, as a sentence to be read from two metres and as figures.

Plain data for every view: keys stay, lengths are millimetres on diameter, times seconds.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import Any

from msgspec import structs

from capture.analysis.grind.coach_messages import (
    beside,
    next_step,
    on_indicator,
    questions,
    straightening,
    waits,
)
from capture.analysis.grind.headline import headline, step_of
from capture.analysis.grind.machine_memory import agreement, shown
from capture.coach.advice import Coaching
from capture.metrology.message import message
from capture.state.grinding.pass_verdict import pass_verdict
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from capture.text.catalogue import sentence, sentences
from capture.text.rounded import shown as as_shown

CAUTION = (
    "advice only: it knows nothing of guards and wheel ratings, and the operator's eyes and ears come first"
)


def coach_of(state: State) -> dict[str, Any] | None:
    """The newest advice; None where the sheet has no fit, or the part has not been measured."""
    coaching = state.grind.coaching
    if coaching is None:
        return None
    job, row, landing = state.job, state.grind.row, coaching.landing
    stale = row is not None and coaching.after != row.number
    units, fine = job.units, step_of((), job)
    return {
        "after": coaching.after,
        "stale": stale,
        "step": landing.step,
        **_instructions(state, coaching, stale=stale),
        "gauge_step": fine,
        "infeed": landing.infeed,
        "divisions": coaching.divisions,
        "feeds": landing.feeds,
        "rests": landing.rests,
        "readings": landing.readings,
        "to_come": landing.to_come,
        "stock": landing.stock,
        "final": _whole(landing.final, state),
        "u_final": landing.u_final,
        "p_next": landing.p_next,
        "p_under": landing.p_under,
        "p_inside": landing.p_inside,
        "p_over": landing.p_over,
        "undersize": job.settings.coach.undersize,
        "dress": coaching.dress,
        "growth": coaching.growth,
        "hot": coaching.hot,
        "wait": coaching.wait,
        "again_at": None if coaching.wait is None else state.at.wall + int(coaching.wait * 1e9),
        "table": _table(coaching, state),
        "machine": _machine(state),
        "doubt": None if coaching.doubt is None else sentence(coaching.doubt, units, fine),
        "why": "; ".join(sentences(landing.why, units, fine)) or None,
        "caution": CAUTION,
    }


def _to_come(state: State) -> float | None:
    """What still comes off by itself, as the headline shows it: size less predicted size, mm."""
    found = headline(state)
    aim, band = (None, None) if found.aim is None else (found.aim.aim, found.aim.band)
    return as_shown(
        size=found.size,
        aim=aim,
        band=band,
        predicted=found.predicted,
        step=found.step,
        units=state.job.units,
    ).to_come


def _instructions(state: State, coaching: Coaching, *, stale: bool) -> dict[str, Any]:
    """The next step, what stands beside it and what is asked, in sentences; to measure where *stale*."""
    job = state.job
    units, fine = job.units, step_of((), job)
    called = pass_verdict(state.grind, state.stations, job)
    left = () if called is None else called.open
    on_size = called is not None and called.called == "at-size"
    unsure = called is not None and called.unsure
    step = next_step(coaching, job, on_size=on_size, unsure=unsure, left=left, to_come=_to_come(state))
    more = () if stale or (left and waits(coaching.landing)) else beside(coaching, job)
    return {
        "say": sentence(message("coach.measure") if stale else step, units, fine),
        "more": sentences(more, units, fine),
        "questions": sentences(questions(state, coaching), units, fine),
    }


def beside_of(state: State) -> dict[str, Any]:
    """What was advised after each pass, beside what was done in the next, and what it came to.

    `foreseen` is how many passes the first advice counted on; `spent` how many were made after the part was
    called done. What size another way would have come to, nobody can know: `risked` is the largest chance
    of ending undersize that there was.
    """
    rows = state.grind.passes
    listed = [_beside(row, after) for row, after in zip_longest(rows, rows[1:])]
    first = next((row for row in listed if row["passes_left"]), None)
    outlook = rows[-1].outlook if rows else None
    return {
        "rows": listed,
        "passes": len(rows),
        "foreseen": None if first is None else first["after"] + first["passes_left"],
        "spent": sum(row["spent"] for row in listed),
        "risked": max((row["p_under"] for row in listed if row["p_under"] is not None), default=None),
        "size": None if outlook is None else outlook.size,
        "u_size": None if outlook is None else outlook.u_size,
    }


def _beside(row: PassRow, after: PassRow | None) -> dict[str, Any]:
    coaching = row.coaching
    landing = None if coaching is None else coaching.landing
    advised = None if landing is None or landing.step not in {"feed", "rest", "draw back"} else landing.infeed
    return {
        "after": row.number,
        "step": None if landing is None else landing.step,
        "advised": advised,
        "done": None if after is None else after.infeed,
        "differs": None
        if advised is None or after is None or after.infeed is None
        else after.infeed - advised,
        "passes_left": None if landing is None else landing.passes,
        "p_under": None if landing is None else landing.p_under,
        "spent": after is not None and landing is not None and landing.step == "stop",
    }


def _table(coaching: Coaching, state: State) -> dict[str, Any] | None:
    if coaching.table is None or coaching.straightening is None:
        return None
    straight, why = structs.asdict(coaching.straightening), coaching.straightening.why
    straight["why"] = "" if why is None else sentence(why, state.job.units)
    said = straightening(coaching.straightening, coaching.table)
    straight["say"] = sentence(said, state.job.units, step_of((), state.job))
    straight["indicator"] = on_indicator(coaching.straightening.toward_wheel, state.job)
    return {**straight, **{f"slope_{key}": value for key, value in structs.asdict(coaching.table).items()}}


def _machine(state: State) -> dict[str, Any]:
    """What this job shows of the machine, beside what is remembered of it."""
    row, coaching = state.grind.row, state.grind.coaching
    outlook = None if row is None else row.outlook
    table = None if coaching is None else coaching.table
    known = state.job.grinder.known if state.job.grinder is not None else None
    job = shown(state) if known is not None else None
    compared = () if known is None or job is None else agreement(known, job)
    return {
        "share": None if outlook is None else outlook.share,
        "u_share": None if outlook is None else outlook.u_share,
        "scatter": None if outlook is None else outlook.sigma,
        "obeys": None if table is None or not table.turns else table.obeys,
        "u_obeys": None if table is None or not table.turns else table.u_obeys,
        "gain": None if coaching is None else coaching.gain,
        "u_gain": None if coaching is None else coaching.u_gain,
        "known": None if known is None else structs.asdict(known),
        "agreement": [structs.asdict(one) for one in compared],
    }


def _whole(value: float | None, state: State) -> float | None:
    return None if value is None else value + state.grind.reference
