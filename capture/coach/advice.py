"""The advice at the grinder: worked out once for every new size, from all passes so far.

It is advice. The operator does what they judge, and the next is worked out from what was done. It knows
nothing of guards, of what a wheel may bear, or of what an operator sees and hears.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from capture.coach.choose_infeed import choose_infeed, first_infeed, gain_of
from capture.coach.cooling import cooling_constant, size_trend, still_air_constant
from capture.coach.final_size import Band, Feeding, FinalSizeForecast
from capture.coach.infeed_choice import InfeedChoice
from capture.coach.parallel_sizes import arm_of, followed, parallel_sizes, span_of
from capture.coach.pauses import GAP, WAIT, PauseEvidence, after_pause
from capture.coach.ride_infeed import infeed_by_ride
from capture.coach.table_correction import Followed, Straightening, Turn, straighten
from capture.metrology.grinding.judgement import Foresight, GrindLimits, foresee
from capture.metrology.grinding.outlook import Outlook, SizeReading, Stroke
from capture.metrology.grinding.spring.passes import COOLANT_RUNNING, Prior, with_coolant
from capture.metrology.grinding.wheel.wheel_and_work import DATA, Material
from capture.metrology.heat.cooling import time_until
from capture.metrology.heat.soak import Soak
from capture.metrology.message import Message, message
from capture.sheet.coach_settings import Coach as CoachSettings
from capture.sheet.job import Job
from capture.sheet.measuring_plan import PlannedPlace

SHORT = 5
"""Passes that are looked back on where all of them together make no sense."""
BEHIND = 4
"""Passes after one whose infeed fits nothing, from which on they alone are looked back on (set by trials)."""
NEAR = 3
"""Passes since a pause that showed no heat, within which the part counts as cold."""
APART, ELSEWHERE = 5.0, 0.003
"""Standard uncertainties, and mm, that a size may be believed to differ from what the gauge shows."""
DRY = 0.5
"""Chance of a part that nothing cools and no probe watches to get warm enough to matter: an estimate, no
source."""
SHOWS, COOLS = 0.4, 1.5
"""Time constants of still air after which a pause shows a dry part's heat, and that are waited."""
UNEVEN = 0.04
GLAZES = 0.05
"""Chance of a wheel that loses its bite, as the coach has it: it asks for a dressing before the last stock,
and sees the share fall (set by trials; the prediction, which promises an interval, allows for more)."""
GAUGE_KNOWN = 0.3
"""Standard deviation of the logarithm of a gauge's scatter in this job over that of earlier ones."""
FARTHEST = 2.6
"""Times over or under the scatter stated that a remembered one is believed."""


class Coaching(Struct, frozen=True):
    """The advice after a size."""

    after: int
    """Number of the newest pass."""
    landing: InfeedChoice
    divisions: float | None = None
    """Infeed of the next pass in divisions of the dial."""
    straightening: Straightening | None = None
    table: Followed | None = None
    growth: float | None = None
    """How much larger than at 20 °C the part is, mm; None is not known."""
    wait: float | None = None
    """Seconds to wait before the next reading is worth taking."""
    hot: float | None = None
    """Size to grind to while the part is as warm as it is, mm."""
    soak: Soak | None = None
    """Where the size goes while nobody grinds."""
    pause: PauseEvidence | None = None
    dress: bool = False
    """The last stock begins, and the wheel has not been dressed for it."""
    doubt: Message | None = None
    gain: float | None = None
    """What a diameter gets of an infeed, as this job shows it."""
    u_gain: float | None = None
    short: bool = False
    """Only the last passes are believed: all of them together make no sense, or an odd one lies behind."""


class Ground(NamedTuple):
    """What was done and measured since the wheel was last set or dressed."""

    strokes: Sequence[Stroke]
    sizes: Sequence[SizeReading]
    places: Sequence[PlannedPlace]
    turns: Sequence[Turn]
    reference: float
    """What the sizes differ from, mm."""
    touched: bool
    """The wheel was set to the part before the first pass."""
    dressed: bool
    coolant: bool | None
    number: int
    """Passes before the first of `strokes`."""
    cut: float = 0.0
    """mm on diameter fed before them."""
    material: Material | None = None
    """What the wheel cuts before plating; None: the limits of the settings hold as they are."""


def feeding_of(job: Job, material: Material | None = None) -> Feeding:
    """What a pass may be on this machine, lengths on diameter.

    The settings' deepest pass is that of hard chrome. Where the base metal is cut before plating and nobody
    set another, the handbook's for that *material* holds, read as diameter, which is the cautious reading.
    """
    coach = job.settings.coach
    factor = 2.0 if job.grinder is not None and job.grinder.dial == "radius" else 1.0
    division = job.grinder.division if job.grinder is not None else None
    return Feeding(
        division=factor * (division or coach.division),
        rough=_rough(coach, material),
        finish=coach.finish,
        last_stock=coach.last_stock,
        undersize=min(coach.undersize, 0.5),
        removal=job.settings.spark_out.limit,
    )


def _rough(coach: CoachSettings, material: Material | None) -> float:
    """The deepest pass before the last stock, mm on diameter."""
    known = None if material is None else DATA[material].depth["rough"].high
    return coach.rough if known is None or coach.rough != CoachSettings().rough else known


def prior_of(ground: Ground, job: Job) -> Prior:
    """What is believed before the first reading: what is remembered of the machine, and what was entered."""
    prior = Prior()
    known = job.grinder.known if job.grinder is not None else None
    if known is not None and known.heat is not None:
        # the chance seen over the jobs, the estimate for any machine counting as two of them
        factor = (known.heat * known.jobs / prior.heat + 2.0) / (known.jobs + 2.0)
        factor = min(max(factor, 0.2), 3.0)
        prior = replace(prior, heat=prior.heat * factor, failing=prior.failing * factor)
    if ground.coolant:
        prior = replace(prior, heat=prior.heat * COOLANT_RUNNING, failing=prior.failing * COOLANT_RUNNING)
    elif ground.coolant is False:
        prior = replace(prior, heat=max(prior.heat, DRY))
    if known is not None and known.scatter is not None:
        prior = replace(prior, gauge_u=GAUGE_KNOWN)
    if known is not None and known.share is not None:
        prior = replace(prior, share_known=known.share, share_known_u=max(known.u_share or 0.1, 0.03))
    if known is not None and known.gain is not None:
        prior = replace(prior, gain=known.gain, gain_u=max(known.u_gain or prior.gain_u, 0.01))
    return prior


def as_gauged(ground: Ground, job: Job) -> Ground:
    """The same with the scatter that earlier jobs showed of the gauge in the place of the one stated.

    No farther from it than any job has been believed to be.
    """
    known = job.grinder.known if job.grinder is not None else None
    if known is None or not known.scatter:
        return ground
    seen = known.scatter
    sizes = [replace(size, u=min(max(seen, size.u / FARTHEST), size.u * FARTHEST)) for size in ground.sizes]
    return ground._replace(sizes=sizes)


def outlook_of(ground: Ground, limits: GrindLimits, job: Job) -> Outlook:
    """The outlook after the newest size, in the terms of the sizes."""
    ground = as_gauged(ground, job)
    prior = prior_of(ground, job)
    if ground.coolant is False:
        prior = replace(with_coolant(prior, running=False), cut=ground.cut)
    _, seen, _ = _seen(ground, limits, prior, job)
    return replace(seen.outlook, number=ground.number + len(ground.strokes))


def coaching_of(
    ground: Ground, limits: GrindLimits, aim: float | None, job: Job, ridden: Outlook | None = None
) -> Coaching | None:
    """The advice after the newest size; None where no size is aimed at.

    It believes a little more than the outlook: that the wheel was touched off, and that passes may be uneven.
    *ridden* is the outlook by a gauge that rides on the part, in the terms of the sizes: it says more than
    passes of unknown infeed.
    """
    if aim is None or limits.band is None or not ground.sizes:
        return None
    ground = as_gauged(ground, job)
    # a share that falls with the depth would cost the coach passes and land no more parts (by trials)
    prior = replace(prior_of(ground, job), uneven=UNEVEN, glazing=GLAZES, size_effect=0.0, size_effect_u=0.0)
    if ground.touched:
        prior = replace(prior, contact=job.settings.coach.contact)
    (considered, sizes), seen, pause = _seen(ground, limits, prior, job)
    outlook = seen.outlook
    cut = _forgotten(seen, considered, sizes, pause)
    if cut:
        sizes = [replace(size, after=size.after - cut) for size in sizes if size.after >= cut]
        considered = considered[cut:]
        seen = foresee(considered, sizes, limits, replace(prior, contact=None))
    table = followed(ground.sizes, ground.places, ground.turns, len(ground.strokes), outlook.share, job)
    band = Band(limits.band[0], limits.band[1], aim, *_reach(seen, ground, table, job))
    waited = pause is not None and pause.after == len(ground.strokes)
    if ridden is not None and ridden.predicted is not None:
        landing = infeed_by_ride(ridden, band, feeding_of(job, ground.material))
        coaching = _led_to(landing, None, ground, job)
    else:
        coaching = _coaching(ground, seen, considered, sizes, band, job, waited=waited)
    gain, u_gain = (None, None) if seen.weighed is None else gain_of(seen.weighed.pool)
    coaching = replace(coaching, table=table, pause=pause, short=bool(cut), gain=gain, u_gain=u_gain)
    coaching = replace(coaching, straightening=_straightening(table, coaching.landing, ground, outlook, job))
    return _warm(coaching, ground, aim, job)


def _forgotten(
    seen: Foresight, strokes: Sequence[Stroke], sizes: Sequence[SizeReading], pause: PauseEvidence | None
) -> int:
    """How many of the first passes are no longer looked back on: what came of them explains nothing.

    All but the last few where nothing explains the readings, or where a part that is surely cold is
    believed to have another size than it shows; up to the odd one where that lies well behind.
    """
    weighed, made = seen.weighed, len(strokes)
    if weighed is None or made <= SHORT:
        return 0
    cut = 0
    if weighed.lost or (weighed.doubt and _contradicted(seen, sizes, made, pause)):
        cut = made - SHORT
    elif weighed.odd is not None and made - weighed.odd >= BEHIND:
        cut = weighed.odd
    return cut if any(size.after >= cut for size in sizes) else 0


def _contradicted(
    seen: Foresight, sizes: Sequence[SizeReading], made: int, pause: PauseEvidence | None
) -> bool:
    """Whether the newest readings of a part that is surely cold show another size than is believed."""
    newest = [size for size in sizes if size.after == made]
    cold = pause is not None and pause.cold and made - pause.after < NEAR
    if seen.weighed is None or not newest or (newest[0].growth is None and not cold):
        return False
    estimate = FinalSizeForecast(seen.weighed.pool, seen.reference, seen.u_growth, 1.0).size
    u = max(size.u for size in newest) / len(newest) ** 0.5
    apart = abs(estimate - sum(size.value for size in newest) / len(newest))
    return bool(apart > max(APART * u, ELSEWHERE))


def _seen(
    ground: Ground, limits: GrindLimits, prior: Prior, job: Job
) -> tuple[tuple[Sequence[Stroke], Sequence[SizeReading]], Foresight, PauseEvidence | None]:
    """The input of the model, and what it makes of it; where the table was moved, of a parallel part."""
    gap = SHOWS * still_air_constant(ground.reference) if ground.coolant is False else GAP
    considered, sizes, estimate, pause = after_pause(ground.strokes, ground.sizes, prior, gap)
    seen = foresee(considered, sizes, limits, estimate)
    if ground.turns and job.grinder is not None and job.grinder.swivel is not None:
        share = seen.outlook.share
        flat = parallel_sizes(ground.sizes, ground.places, ground.turns, share, job)
        considered, sizes, estimate, pause = after_pause(ground.strokes, flat, prior, gap)
        seen = foresee(considered, sizes, limits, estimate)
    return (considered, sizes), seen, pause


def _coaching(
    ground: Ground,
    seen: Foresight,
    strokes: Sequence[Stroke],
    sizes: Sequence[SizeReading],
    band: Band,
    job: Job,
    *,
    waited: bool,
) -> Coaching:
    feeding = feeding_of(job, ground.material)
    landing = _landing(seen, strokes, sizes, band, feeding, waited=waited)
    doubt = None if seen.weighed is None else seen.weighed.doubt
    if seen.weighed is not None and seen.weighed.lost:
        doubt = message("doubt.lost")
        landing = replace(InfeedChoice("cannot tell", why=(doubt,)), stock=landing.stock, readings=2)
    return _led_to(landing, doubt, ground, job)


def _led_to(landing: InfeedChoice, doubt: Message | None, ground: Ground, job: Job) -> Coaching:
    """The advice that leads to *landing*."""
    feeding = feeding_of(job, ground.material)
    last = landing.finishing or (landing.stock is not None and landing.stock <= feeding.last_stock)
    return Coaching(
        after=ground.number + len(ground.strokes),
        landing=landing,
        divisions=landing.infeed / feeding.division if landing.infeed else None,
        dress=last and job.settings.coach.dress and not ground.dressed and _worth_dressing(landing, feeding),
        doubt=doubt,
    )


def _worth_dressing(landing: InfeedChoice, feeding: Feeding) -> bool:
    """Dressing in the very last micrometres does more harm than good: the wheel's place would be lost."""
    return landing.step == "feed" and landing.stock is not None and landing.stock > 0.5 * feeding.last_stock


def _landing(
    seen: Foresight,
    strokes: Sequence[Stroke],
    sizes: Sequence[SizeReading],
    band: Band,
    feeding: Feeding,
    *,
    waited: bool,
) -> InfeedChoice:
    first = min(sizes, key=lambda size: size.after)
    fed = [stroke.infeed for stroke in strokes[first.after :]]
    sure = sum(infeed for infeed in fed if infeed is not None) if None not in fed else None
    start = [size.value for size in sizes if size.after == first.after]
    size = sum(start) / len(start)
    safe = 0.0 if sure is None else first_infeed(size, sure, band, feeding)
    stock = None if sure is None else size - sure - band.aim
    newest = [size for size in sizes if size.after == len(strokes)]
    if not strokes:
        why = () if safe else (message("infeed.little-stock"),)
        return InfeedChoice(
            "feed" if safe else "rest", infeed=safe, stock=stock, why=why, rests=int(not safe)
        )
    if not newest:
        return InfeedChoice("measure again", stock=stock, why=(message("infeed.unmeasured"),))
    if seen.weighed is None or strokes[-1].infeed is None:
        return InfeedChoice("cannot tell", stock=stock, why=(message("infeed.not-known"),))
    infeeds = [stroke.infeed for stroke in strokes]
    return choose_infeed(seen, band, feeding, infeeds=infeeds, readings=len(newest), waited=waited)


def _reach(seen: Foresight, ground: Ground, table: Followed | None, job: Job) -> tuple[float, float]:
    """The smallest and the largest place less the mean of the places, in the end, mm."""
    if ground.turns and table is not None and job.grinder is not None and job.grinder.swivel is not None:
        z = [place.z for place in ground.places if place.z is not None]
        taper = [table.final * (at - job.grinder.swivel.pivot) for at in z]
        return min(0.0, *taper), max(0.0, *taper)
    if seen.weighed is None or len(ground.places) < 2:
        return 0.0, 0.0
    offsets = seen.weighed.pool.offsets()
    return min(offsets), max(offsets)


def _straightening(
    table: Followed | None, landing: InfeedChoice, ground: Ground, outlook: Outlook, job: Job
) -> Straightening | None:
    arm = arm_of(job.grinder)
    if table is None or arm is None:
        return None
    return straighten(
        table,
        arm=arm,
        span=span_of(ground.places),
        share=min(max(outlook.share or 0.5, 0.05), 0.95),
        stock=landing.stock,
        within=job.settings.coach.parallel,
    )


def _warm(coaching: Coaching, ground: Ground, aim: float, job: Job) -> Coaching:
    """What heat asks for: a wait, or a size to grind to hot."""
    newest = max(ground.sizes, key=lambda size: (size.after, size.t))
    trend = size_trend(ground.sizes, newest, ground.reference, job.settings.warm.limit)
    if newest.growth is None:
        cooling = COOLS * still_air_constant(ground.reference) if ground.coolant is False else WAIT
        wait = cooling if coaching.landing.step == "wait" else None
        if trend is not None and trend.wait is not None and trend.verdict == "settling":
            wait = max(trend.wait, 60.0)
        return replace(coaching, soak=trend, wait=wait)
    limit = job.settings.warm.limit
    hot = wait = None
    if abs(newest.growth) > limit:
        hot = aim + ground.reference + newest.growth
        wait = time_until(
            newest.growth, limit, cooling_constant(ground.reference, newest.growth, coolant=ground.coolant)
        )
    return replace(coaching, growth=newest.growth, soak=trend, hot=hot, wait=wait)
