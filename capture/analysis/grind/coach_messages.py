"""What the coach says, as messages: the next step, what else is worth knowing, and what does not fit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from capture.coach.advice import Coaching
from capture.coach.infeed_choice import InfeedChoice
from capture.coach.table_correction import Followed, Straightening
from capture.metrology.grinding.spring.prediction import DIAL_HALF, DIAL_TWICE
from capture.metrology.message import Length, Message, message, place, scatter, size, small, within
from capture.sheet.job import Job
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.session import State
from capture.text.lengths import percent, sure

TIRED = 0.7
"""Of the wheel's best share, under which it is asked about (common practice, no source)."""
LOOSE = 1.8
"""Times its own scatter that a gauge must scatter before something loose is asked about (common practice)."""
LONG = 5400.0
"""Seconds from which on a wait is said in hours."""
APART = 3.0
"""Standard uncertainties at which this job does not agree with what is remembered."""


def next_step(
    coaching: Coaching,
    job: Job,
    *,
    on_size: bool,
    unsure: bool = False,
    left: Sequence[PlannedPlace] = (),
    to_come: float | None = None,
) -> Message:
    """What to do now; *left* are the places of the pass that are not measured yet.

    *to_come* is what still comes off by itself as it is shown elsewhere, mm; of None or 0 nothing is said.

    The coach asks for more certainty before it feeds again than the verdict does to call: where both look
    at one part *on_size*, the next step is to leave it alone. Where the coach itself is not as sure as the
    sheet asks, it is not called done.
    """
    landing = coaching.landing
    if left and waits(landing):
        return _measure_on(left)
    if on_size and landing.step in {"measure again", "rest"} and _sure(landing, job):
        return message("coach.leave-it")
    if (on_size or unsure) and landing.step == "measure again":
        return message("coach.measure-again-for", chances=chances(landing))
    return _step(coaching, job, to_come or None)


def waits(landing: InfeedChoice) -> bool:
    """Whether the step has to wait until all places of the pass are measured."""
    return landing.step in {"rest", "measure again", "stop"}


def _measure_on(left: Sequence[PlannedPlace]) -> Message:
    first = left[0]
    if first.z is None:
        return message("coach.measure")
    if len(left) == 1:
        return message("coach.measure-place", place=place(first.z))
    return message("coach.measure-places", place=place(first.z), more=len(left) - 1)


def beside(coaching: Coaching, job: Job) -> Iterator[Message]:
    """What else is worth knowing, the most important first."""
    landing = coaching.landing
    if landing.step in {"feed", "rest", "draw back"}:
        yield from _then(landing)
    if landing.p_under is not None and landing.p_next is not None:
        limit, now = sure(job.settings.coach.undersize), sure(landing.p_next)
        yield message("coach.risk", now=now, limit=limit, end=sure(landing.p_under))
    if landing.readings > 1 and landing.step in {"feed", "rest", "draw back"}:
        yield message("coach.readings", readings=landing.readings)
    yield from _of_heat(coaching)
    if coaching.straightening is not None:
        yield straightening(coaching.straightening, coaching.table)
    yield from landing.why


def straightening(straight: Straightening, table: Followed | None) -> Message:
    """What the taper is, and what to do about it."""
    taper, u = small(straight.taper, signed=True), within(straight.u_taper)
    said = message("coach.taper", taper=taper, u=u, advice=straight.advice)
    if straight.advice == "measure" and straight.rounds_after == 1:
        said = message("coach.taper-measure-one", taper=said)
    elif straight.advice == "measure":
        said = message("coach.taper-measure", taper=said, passes=straight.rounds_after)
    if straight.why is not None:
        said = message("coach.taper-why", taper=said, why=straight.why)
    if table is not None and table.turns:
        obeys, u_obeys = percent(table.obeys), percent(table.u_obeys)
        said = message("coach.taper-obeys", taper=said, obeys=obeys, u=u_obeys)
    return said


def questions(state: State, coaching: Coaching) -> Iterator[Message]:
    """What does not fit, asked as a person would."""
    dial = state.job.grinder.dial if state.job.grinder is not None else "diameter"
    doubt = coaching.doubt
    if doubt is not None and doubt.name in {DIAL_HALF, DIAL_TWICE}:
        yield message("ask.dial", dial=dial, doubt=doubt)
    elif doubt is not None:
        yield message("ask.doubt", doubt=doubt)
    yield from _of_wheel(state)


def on_indicator(toward_wheel: float, job: Job) -> float:
    """A movement of the table, mm toward the wheel, as its indicator counts it."""
    swivel = job.grinder.swivel if job.grinder is not None else None
    return -toward_wheel if swivel is not None and swivel.toward_wheel == "-" else toward_wheel


def _step(coaching: Coaching, job: Job, to_come: float | None) -> Message:
    landing = coaching.landing
    turn = coaching.straightening if landing.step in {"feed", "rest"} else None
    if turn is not None and turn.advice in {"move", "move in part"}:
        return message("coach.table", moved=Length(on_indicator(turn.toward_wheel, job), "indicator"))
    if coaching.dress:
        return message("coach.dress")
    match landing.step:
        case "feed":
            return message("coach.feed", infeed=_divisions(coaching, job))
        case "rest":
            return _resting(to_come)
        case "draw back":
            return _drawing_back(_divisions(coaching, job), to_come)
        case "measure again":
            return message("coach.measure-again")
        case "wait":
            return message("coach.wait", wait=_wait(coaching.wait))
        case "stop":
            return _stopping(coaching, job)
        case "cannot tell":
            return message("coach.cannot-tell")


def _drawing_back(infeed: Message, to_come: float | None) -> Message:
    if to_come is None:
        return message("coach.draw-back-alone", infeed=infeed)
    return message("coach.draw-back", infeed=infeed, to_come=small(to_come))


def _resting(to_come: float | None) -> Message:
    return message("coach.rest") if to_come is None else message("coach.rest-for", to_come=small(to_come))


def _sure(landing: InfeedChoice, job: Job) -> bool:
    """Whether the part is as surely inside the band as the sheet asks of a call."""
    return landing.p_inside is not None and landing.p_inside >= job.settings.spark_out.confidence


def chances(landing: InfeedChoice) -> Message:
    """How sure it is that every place ends inside the band, and what else it may be."""
    if landing.p_inside is None or landing.p_under is None or landing.p_over is None:
        return message("coach.chances-unknown")
    inside, under = percent(landing.p_inside), landing.p_under >= landing.p_over
    if under:
        return message("coach.chance-under", inside=inside, beside=percent(landing.p_under))
    return message("coach.chance-over", inside=inside, beside=percent(landing.p_over))


def _stopping(coaching: Coaching, job: Job) -> Message:
    landing = coaching.landing
    if coaching.hot is not None:
        growth, wait = small(abs(coaching.growth or 0.0)), _wait(coaching.wait)
        if (coaching.growth or 0.0) > 0:
            return message("coach.stop-warm", wait=wait, growth=growth)
        return message("coach.stop-cold", wait=wait, growth=growth)
    if landing.p_under is not None and landing.p_under > 0.5:
        return message("coach.undersize")
    if not _sure(landing, job):
        return message("coach.not-sure", chances=chances(landing))
    return message("coach.done")


def _divisions(coaching: Coaching, job: Job) -> Message:
    number = round(abs(coaching.divisions or 0.0))
    dial = job.grinder.dial if job.grinder is not None else "diameter"
    infeed = abs(coaching.landing.infeed)
    depth = Length(infeed / 2.0 if dial == "radius" else infeed, "short")
    if number == 1:
        return message("coach.infeed-division", number=number, depth=depth, dial=dial)
    return message("coach.infeed-divisions", number=number, depth=depth, dial=dial)


def _wait(seconds: float | None) -> Message:
    if seconds is None:
        return message("wait.unknown")
    if seconds < LONG:
        return message("wait.minutes", time=max(1, round(seconds / 60.0)))
    return message("wait.hours", time=seconds / 3600.0)


def _then(landing: InfeedChoice) -> Iterator[Message]:
    """What comes after the next pass; nothing where it is the last."""
    if landing.feeds and landing.rests:
        yield message("coach.then-both", feeds=landing.feeds, rests=landing.rests)
    elif landing.feeds:
        yield message("coach.then-feeds", feeds=landing.feeds)
    elif landing.rests:
        yield message("coach.then-rests", rests=landing.rests)


def _of_heat(coaching: Coaching) -> Iterator[Message]:
    if coaching.hot is not None:
        wait, growth = _wait(coaching.wait), small(abs(coaching.growth or 0.0))
        if coaching.wait is not None and coaching.wait >= LONG:
            wait = message("coach.growth-long", wait=wait)
        if (coaching.growth or 0.0) > 0:
            yield message("coach.growth-larger", growth=growth, wait=wait, hot=size(coaching.hot))
        else:
            yield message("coach.growth-smaller", growth=growth, wait=wait, hot=size(coaching.hot))
    soak = coaching.soak
    if soak is not None and soak.final is not None:
        yield message("coach.soak", end=size(soak.final), u=within(soak.u or 0.0), advice=soak.advice)
    if coaching.pause is not None and coaching.pause.cold:
        yield message("coach.pause-cold")
    elif coaching.pause is not None:
        yield message("coach.pause-warm", fall=small(coaching.pause.fall))


def _of_wheel(state: State) -> Iterator[Message]:
    outlooks = [row.outlook for row in state.grind.passes if row.number > state.grind.first]
    shares = [o.share for o in outlooks if o is not None and o.share is not None]
    newest = outlooks[-1] if outlooks else None
    if newest is None or newest.share is None or newest.u_share is None:
        return
    share, best = newest.share, max(shares)
    if share + newest.u_share < TIRED * best:
        yield message("ask.dress", share=percent(share), best=percent(best))
    sizes = state.grind.sizes
    if newest.sigma is not None and sizes and newest.sigma > LOOSE * sizes[-1].u:
        yield message("ask.loose", seen=scatter(newest.sigma), due=scatter(sizes[-1].u))
    known = state.job.grinder.known if state.job.grinder is not None else None
    if known is not None and known.share is not None:
        u = ((known.u_share or 0.1) ** 2 + newest.u_share**2) ** 0.5
        if abs(share - known.share) > APART * u:
            yield message("ask.same-wheel", share=percent(share), known=percent(known.share))
