"""The coach: what to do next at the grinder, as words for two metres' distance and as figures.

Plain data for every view: keys stay, lengths are millimetres on diameter, times seconds.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import Any

from msgspec import structs

from capture.analysis.machine_memory import agreement, shown
from capture.coach.advice import Coaching
from capture.coach.choose_infeed import InfeedChoice
from capture.coach.table_correction import Followed, Straightening
from capture.sheet.job import Job, Units
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from capture.text.lengths import indicator, percent, size, small, sure

CAUTION = (
    "advice only: it knows nothing of guards and wheel ratings, and the operator's eyes and ears come first"
)
TIRED = 0.7
"""Of the wheel's best share, under which it is asked about (common practice, no source)."""
LOOSE = 1.8
"""Times its own scatter that a gauge must scatter before something loose is asked about (common practice)."""
LONG = 5400.0
"""Seconds from which on a wait is said in hours."""
APART = 3.0
"""Standard uncertainties at which this job does not agree with what is remembered."""


def coach_of(state: State) -> dict[str, Any] | None:
    """The newest advice; None where the sheet has no fit, or the part has not been measured."""
    coaching = state.grind.coaching
    if coaching is None:
        return None
    job, row = state.job, state.grind.row
    stale = row is not None and coaching.after != row.number
    landing = coaching.landing
    return {
        "after": coaching.after,
        "stale": stale,
        "step": landing.step,
        "say": "measure this pass" if stale else said_of(coaching, job, on_size=_on_size(state)),
        "more": _more(coaching, job),
        "questions": _questions(state, coaching),
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
        "doubt": coaching.doubt or None,
        "why": landing.why or None,
        "caution": CAUTION,
    }


def said_of(coaching: Coaching, job: Job, *, on_size: bool) -> str:
    """What is said of *coaching*.

    The coach asks for more certainty before it feeds again than the verdict does to call: where both look
    at one part *on_size*, the next step is to leave it alone. Where the coach itself is not as sure as the
    sheet asks, nobody is told that it is done.
    """
    landing = coaching.landing
    if on_size and landing.step in {"measure again", "rest"} and _sure(landing, job):
        return "done: on size; leave it"
    if on_size and landing.step == "measure again":
        return f"measure again: {_chances(landing)}"
    return _say(coaching, job)


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


def _say(coaching: Coaching, job: Job) -> str:
    """One sentence, the first word says what to do."""
    landing, units = coaching.landing, job.units
    straight = coaching.straightening
    if (
        landing.step in {"feed", "rest"}
        and straight is not None
        and straight.advice in {"move", "move in part"}
    ):
        moved = _indicator(straight.toward_wheel, job)
        return f"move the table {indicator(moved, units)} on its indicator"
    if coaching.dress:
        return "dress the wheel now: the last stock begins"
    match landing.step:
        case "feed":
            return f"feed {_divisions(coaching, job)}"
        case "rest":
            return _resting(landing, units)
        case "draw back":
            return (
                f"draw back {_divisions(coaching, job)}: {small(landing.to_come, units)} would still come off"
            )
        case "measure again":
            return "measure again"
        case "wait":
            return f"stop and wait {_minutes(coaching.wait)}, then measure again"
        case "stop":
            return _stopping(coaching, job)
        case "cannot tell":
            return "no infeed: the readings do not tell what to advise"


def _on_size(state: State) -> bool:
    """Whether the verdict calls the part on size."""
    row = state.grind.row
    return row is not None and row.outlook is not None and row.outlook.verdict == "at-size"


def _sure(landing: InfeedChoice, job: Job) -> bool:
    """Whether the part is as surely inside the band as the sheet asks of a call."""
    return landing.p_inside is not None and landing.p_inside >= job.settings.spark_out.confidence


def _chances(landing: InfeedChoice) -> str:
    """How sure it is, and what else it may be."""
    if landing.p_inside is None or landing.p_under is None or landing.p_over is None:
        return "how sure it is to be on size is not known"
    beside, chance = max(("under it", landing.p_under), ("over it", landing.p_over), key=lambda one: one[1])
    return f"all inside the band with {percent(landing.p_inside)}, {beside} with {percent(chance)}"


def _resting(landing: InfeedChoice, units: Units) -> str:
    if landing.to_come is None:
        return "pass without infeed"
    return f"no infeed: {small(landing.to_come, units)} will still come off"


def _stopping(coaching: Coaching, job: Job) -> str:
    landing, units = coaching.landing, job.units
    if coaching.hot is not None:
        warm = coaching.growth or 0.0
        than = f"{small(abs(warm), units)} {'larger' if warm > 0 else 'smaller'} than it will be"
        return f"stop and wait {_minutes(coaching.wait)}: {'warm' if warm > 0 else 'cold'}, {than}"
    if landing.p_under is not None and landing.p_under > 0.5:
        return "stop: undersize"
    if not _sure(landing, job):
        return f"stop: sparked out, {_chances(landing)}"
    return "done: on size and sparked out"


def _divisions(coaching: Coaching, job: Job) -> str:
    number = abs(coaching.divisions or 0.0)
    radius = job.grinder is not None and job.grinder.dial == "radius"
    infeed = abs(coaching.landing.infeed)
    on_dial = small(infeed / 2.0 if radius else infeed, job.units)
    whole = f"{number:.0f} division{'' if round(number) == 1 else 's'}"
    return f"{whole} ({on_dial} {'on radius' if radius else 'on diameter'})"


def _minutes(seconds: float | None) -> str:
    if seconds is None:
        return "a while"
    return f"{max(1, round(seconds / 60.0))} min" if seconds < LONG else f"{seconds / 3600.0:.0f} h"


def _more(coaching: Coaching, job: Job) -> list[str]:
    """What else is worth knowing, the most important first."""
    landing, units = coaching.landing, job.units
    said: list[str] = []
    if landing.step in {"feed", "rest", "draw back"}:
        said += _then(landing)
    if landing.p_under is not None and landing.p_next is not None:
        limit, now = sure(job.settings.coach.undersize), sure(landing.p_next)
        said.append(
            f"undersize by the next pass: {now} (limit {limit}); at the end without drawing back: "
            f"{sure(landing.p_under)}"
        )
    if landing.readings > 1 and landing.step in {"feed", "rest", "draw back"}:
        said.append(f"take {landing.readings} readings after the next pass")
    if coaching.hot is not None:
        warm = coaching.growth or 0.0
        said.append(
            f"the part is {small(abs(warm), units)} {'larger' if warm > 0 else 'smaller'} than at 20 °C: "
            f"wait {_minutes(coaching.wait)}{_cooler(coaching)}, "
            f"or grind on to {size(coaching.hot, units)} as it is"
        )
    if coaching.soak is not None and coaching.soak.final is not None:
        end, u = size(coaching.soak.final, units), small(coaching.soak.u, units)
        said.append(f"the size goes to {end} ± {u} by its trend: {coaching.soak.advice}")
    if coaching.pause is not None:
        fall = small(coaching.pause.fall, units)
        said.append(
            "the pause showed no heat"
            if coaching.pause.cold
            else f"before the pause the part was {fall} larger for being warm"
        )
    if coaching.straightening is not None:
        said.append(_straight(coaching.straightening, coaching.table, units))
    if landing.why:
        said.append(landing.why)
    return said


def _cooler(coaching: Coaching) -> str:
    return " (minutes with coolant running)" if coaching.wait is not None and coaching.wait >= LONG else ""


def _then(landing: InfeedChoice) -> list[str]:
    """What comes after the next pass; nothing where it is the last."""
    parts = [f"{landing.feeds} more with infeed"] if landing.feeds else []
    parts += [f"about {landing.rests} without"] if landing.rests else []
    return [f"then {', '.join(parts)}"] if parts else []


def _straight(straight: Straightening, table: Followed | None, units: Units) -> str:
    taper = f"taper {small(straight.taper, units, signed=True)} ± {small(straight.u_taper, units)}"
    said = f"{taper} when sparked out: {straight.advice}"
    if straight.advice == "measure":
        said += (
            f" both ends after {straight.rounds_after} more pass{'' if straight.rounds_after == 1 else 'es'}"
        )
    if straight.why:
        said += f" ({straight.why})"
    if table is not None and table.turns:
        said += (
            f"; the table did {percent(table.obeys)} ± {percent(table.u_obeys)} of what its indicator showed"
        )
    return said


def _indicator(toward_wheel: float, job: Job) -> float:
    swivel = job.grinder.swivel if job.grinder is not None else None
    return -toward_wheel if swivel is not None and swivel.toward_wheel == "-" else toward_wheel


def _questions(state: State, coaching: Coaching) -> list[str]:
    """What does not fit, asked as a person would."""
    asked = []
    dial = state.job.grinder.dial if state.job.grinder is not None else "diameter"
    if coaching.doubt.startswith("the sizes answer as if the dial told"):
        asked.append(f"the sheet says the dial is on {dial}: is it? {coaching.doubt}")
    elif coaching.doubt:
        asked.append(
            f"{coaching.doubt}: was a pass not told, an infeed mistyped, "
            "another place measured, the wheel dressed?"
        )
    asked += _of_wheel(state)
    return asked


def _of_wheel(state: State) -> list[str]:
    asked: list[str] = []
    outlooks = [row.outlook for row in state.grind.passes if row.number > state.grind.first]
    shares = [o.share for o in outlooks if o is not None and o.share is not None]
    newest = outlooks[-1] if outlooks else None
    if newest is None or newest.share is None or newest.u_share is None:
        return asked
    best = max(shares)
    if newest.share + newest.u_share < TIRED * best:
        asked.append(
            f"a pass takes {percent(newest.share)} of what is to come, it took {percent(best)}: "
            "dress the wheel?"
        )
    sizes = state.grind.sizes
    if newest.sigma is not None and sizes and newest.sigma > LOOSE * sizes[-1].u:
        told, seen = small(sizes[-1].u, state.job.units), small(newest.sigma, state.job.units)
        asked.append(f"readings scatter {seen}, the gauge alone {told}: a loose centre, or a chip?")
    known = state.job.grinder.known if state.job.grinder is not None else None
    if known is not None and known.share is not None:
        u = ((known.u_share or 0.1) ** 2 + newest.u_share**2) ** 0.5
        if abs(newest.share - known.share) > APART * u:
            asked.append(
                f"a pass takes {percent(newest.share)} of what is to come, in earlier jobs "
                f"{percent(known.share)}: is it the same wheel?"
            )
    return asked


def _table(coaching: Coaching, state: State) -> dict[str, Any] | None:
    if coaching.table is None or coaching.straightening is None:
        return None
    straight = structs.asdict(coaching.straightening)
    straight["say"] = _straight(coaching.straightening, coaching.table, state.job.units)
    straight["indicator"] = _indicator(coaching.straightening.toward_wheel, state.job)
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
