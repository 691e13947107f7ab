"""The passes and sizes of a grind, made ready for the filter of the machine's spring."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple

from msgspec import Struct, structs

from capture.metrology.grinding.outlook import SizeReading, Stroke

GLAZING = ((0.02, 0.4), (0.05, 0.4), (0.10, 0.2))
"""Shares of its bite that a wheel may lose with every pass, and how likely each is where one is lost."""
COARSER = (10, 5, 4, 2)
"""Steps of a gauge over the one stated that are looked for."""
CHANCE = 0.02
"""That readings of the stated step lie on a coarser one by chance, under which it is the gauge's step."""
SURE = 0.3
"""Chance of a kind of heat from which on the wheel's troubles come with it."""
MOST_AIR = 6
"""Kinds of first contact weighed at a time."""


class Move(NamedTuple):
    """One pass as the filter takes it."""

    infeed: float | None
    """On diameter; None is not known."""
    warming: float
    """Known growth since the pass before; 0 where the temperature is not known."""
    seconds: float = 0.0
    """Since the pass before; 0 is not known."""


class RepeatedReadings(NamedTuple):
    """The readings of one place after one pass."""

    after: int
    place: int
    mean: float
    readings: int
    squares: float
    """Sum of squared deviations from the mean."""
    u: float
    resolution: float
    growth: float
    astray: float = 0.0
    """Standard uncertainty of an error that all of them share, as of a wrong place."""


class Prior(Struct, frozen=True):
    """What is believed of grinders and gauges before the first reading; no length that was not given.

    Engineering estimates, no source, wide enough to give way to a dozen readings.
    """

    share: float = 0.5
    share_spread: float = 1.6
    """Exponent of S^a (1-S)^a, which puts nine tenths of the belief between 0.22 and 0.78."""
    share_known: float | None = None
    """Share of this machine and wheel as earlier jobs showed it; None is not known."""
    share_known_u: float = 0.1
    contact: float | None = None
    """mm on diameter up to which the wheel may stand in the part before the first pass, where it was just
    touched off; None: it may have been ground before."""
    gain: float = 0.955
    gain_u: float = 0.035
    size_effect: float = 0.05
    size_effect_u: float = 0.05
    """Exponent of the share over the depth: the specific energy rises as chips get thinner. An estimate, no
    source: of that rise the machine's spring leaves a part."""
    scatter: float = 0.02
    """Change of the share from pass to pass, as a share of it."""
    slip: float = 0.01
    """Error of one infeed, as a share of it."""
    missed: float = 0.03
    """Share of a known growth that its correction may miss: expansion, and the probe's place and lag."""
    gauge_u: float = 0.4
    """Standard deviation of the logarithm of true over stated gauge scatter."""
    heat: float = 0.15
    """Of a part that no probe watches getting warm enough to matter."""
    bare: float = 0.5
    """Part of that chance in which no coolant runs at all."""
    wet: float = 0.06
    dry: float = 0.20
    """Growth per removal, poor coolant and none: 50 J/mm³, of which a fifth and six tenths go into a part
    of 50 × 200 mm (estimates)."""
    cooling: float = 70.0
    """Seconds in which coolant takes all but 1/e of a growth: a film of 750 W/(m² K) on a part of 55 mm."""
    cut: float = 0.0
    """mm on diameter fed since the part was cold, before the first recorded pass."""
    failing: float = 0.03
    """Of coolant that fails, or heat from elsewhere, at any time."""
    uneven: float = 0.0
    """Of passes that differ among each other, as plunges timed by hand do."""
    glazing: float = 0.35
    """Of a wheel that loses its bite: chrome loads it, and a fine dressing glazes. So much that stated
    intervals hold for such a wheel too, of which a dozen sizes show little (set by trials)."""
    air: float = 0.15


COOLANT_RUNNING = 0.15
"""What the suspicion of unseen heat is multiplied by while coolant is said to run: an estimate, no source."""


def with_coolant(prior: Prior, running: bool | None) -> Prior:
    """What is believed once it is known whether coolant runs: without it a part surely gets warm.

    >>> [with_coolant(Prior(), running).heat for running in (None, True, False)]
    [0.15, 0.0225, 0.95]
    """
    if running is None:
        return prior
    if running:
        return structs.replace(
            prior, heat=prior.heat * COOLANT_RUNNING, failing=prior.failing * COOLANT_RUNNING, bare=0.0
        )
    return structs.replace(prior, heat=0.95, failing=0.0, bare=1.0)


class Hypothesis(NamedTuple):
    """One kind of trouble, or none, with how likely it is beforehand."""

    weight: float
    heat: float = 0.0
    """Growth per removal to be looked for where no probe is; 0 is no heat."""
    rate: float = 0.0
    """Standard deviation of a pass's growth whatever it removes, as a ratio to the drift that matters."""
    unsteady: float = 0.1
    """What it changes by from pass to pass, as a share of that."""
    glazing: float = 0.0
    """Share of S lost a pass."""
    air: int = 0
    """Passes in the air before the wheel touches."""
    scatter: float = 0.0
    """Of the share from pass to pass, as a share of it, beside the prior's own."""
    push: float = 0.5
    u_push: float = 0.5
    """Part of the growth that presses the part into the wheel, and its standard uncertainty where the
    growth is known."""
    cooling: float = 0.0
    """Seconds in which the part loses all but 1/e of an unseen growth; 0: it keeps it."""

    @property
    def astray(self) -> bool:
        """Whether the wheel does what it should not."""
        return bool(self.glazing or self.air or self.scatter)


class Task(NamedTuple):
    """The input of the filter."""

    moves: tuple[Move, ...]
    groups: tuple[RepeatedReadings, ...]
    scale: float
    """A length of the order of an infeed."""
    drift: float
    """A length of the order of a growth that matters."""
    known_temperature: bool
    places: int
    cases: tuple[Hypothesis, ...]
    cut_already: bool = False
    """Something has surely come off since the first size, and the wheel was not drawn back since."""
    first: int = 0
    """Passes made before the first of `moves`."""
    dressed: int = 0
    """Pass before which the wheel was dressed without a record of it; 0 for none."""
    back: float = 0.0
    """How far the wheel then stands back, in scales, give or take half as much."""
    bite: float = 1.0
    """Share of a pass from then on over that before."""
    guesses: tuple[float, ...] = ()
    """About what each pass was fed where that is None; empty: nothing is guessed."""


def true_step(sizes: Sequence[SizeReading]) -> float:
    """The step that the gauge shows: the one stated, or a multiple that all readings lie on; 0 for none.

    Readings of the stated step lie on one of *k* steps by chance with 1/k each, the first one aside; those
    that show a size seen before count for nothing.

    >>> shown = [0.0, 0.004, 0.010, 0.012, 0.016, 0.018, 0.024, 0.026]
    >>> true_step([SizeReading(after=n, value=v, u=5e-4, resolution=0.001) for n, v in enumerate(shown)])
    0.002
    """
    stated = max(size.resolution for size in sizes)
    if not stated:
        return 0.0
    first = sizes[0].value + (sizes[0].growth or 0.0)
    steps = {(size.value + (size.growth or 0.0) - first) / stated for size in sizes}
    whole = {round(number) for number in steps}
    if any(abs(number - round(number)) > 0.05 for number in steps):
        return stated
    found = (k for k in COARSER if k ** (1 - len(whole)) < CHANCE and not any(n % k for n in whole))
    return stated * next(found, 1)


def groups_of(sizes: Sequence[SizeReading]) -> tuple[RepeatedReadings, ...]:
    """Readings of one place after one pass, taken together; sorted, so that their order is nothing."""
    seatings: dict[tuple[int, int], list[SizeReading]] = {}
    for size in sizes:
        seatings.setdefault((size.after, size.place), []).append(size)
    groups = []
    step = true_step(sizes) if sizes else 0.0
    for (after, place), members in sorted(seatings.items()):
        values = sorted(size.value for size in members)
        # from the least on: a mean of deviations, not of diameters
        mean = values[0] + sum(value - values[0] for value in values) / len(values)
        squares = sum((value - mean) ** 2 for value in values)
        growth = sum(sorted(size.growth or 0.0 for size in members)) / len(members)
        u = sqrt(sum(sorted(size.u**2 for size in members)) / len(members))
        groups.append(RepeatedReadings(after, place, mean, len(members), squares, u, step, growth))
    return tuple(groups)


def task_of(
    strokes: Sequence[Stroke],
    sizes: Sequence[SizeReading],
    groups: tuple[RepeatedReadings, ...],
    prior: Prior,
) -> Task:
    """The input of the filter, sizes counted from the first."""
    known = all(size.growth is not None for size in sizes)
    reference = groups[0].mean
    shifted = tuple(group._replace(mean=group.mean - reference) for group in groups)
    # the second largest: one mistyped infeed shall not set the scale
    infeeds = sorted(abs(stroke.infeed) for stroke in strokes if stroke.infeed)[-2:][:1]
    scatter = max(group.u for group in groups)
    lengths = [group.mean for group in shifted if group.place == shifted[0].place]
    scale = max([*infeeds, 4.0 * scatter] if infeeds else [max(lengths) - min(lengths), 4.0 * scatter])
    growths = {group.after: group.growth for group in shifted}
    moves = []
    last, since = growths.get(0, 0.0), strokes[0].t if strokes else 0.0
    for number, stroke in enumerate(strokes, 1):
        growth = growths.get(number, last)
        moves.append(Move(stroke.infeed, growth - last if known else 0.0, stroke.t - since))
        last, since = growth, stroke.t
    known_places = sorted({group.place for group in groups})
    shifted = tuple(group._replace(place=known_places.index(group.place)) for group in shifted)
    cases = _cases(strokes, shifted, prior, heat=not known)
    cut = not _nothing_yet(shifted, len(strokes)) and not _drawn_back(strokes)
    return Task(tuple(moves), shifted, scale, scatter, known, len(known_places), cases, cut)


def _cases(
    strokes: Sequence[Stroke], groups: Sequence[RepeatedReadings], prior: Prior, *, heat: bool
) -> tuple[Hypothesis, ...]:
    """The kinds of trouble that the readings leave open."""
    air = [number for number in range(1, len(strokes) + 1) if _nothing_yet(groups, number)][-MOST_AIR:]
    astray = [Hypothesis(prior.glazing * part, glazing=lost) for lost, part in GLAZING]
    astray += [Hypothesis(prior.air / len(air), air=number) for number in air]
    astray += [Hypothesis(prior.uneven, scatter=0.2)] if prior.uneven else []
    honest = 1.0 - sum(case.weight for case in astray)
    hot = [case for push in (0.0, 1.0) for case in _hot(prior, push) if case.weight > 0.0] if heat else []
    cases = [case._replace(weight=honest * case.weight) for case in hot]
    honest *= 1.0 - sum(case.weight for case in hot)
    surely = [case for case in hot if case.weight > SURE]
    for case in astray:
        cases += [_both(case, warm, 1.0 / len(surely)) for warm in surely] or [case]
    growths = [group.growth for group in groups]
    if max(growths) - min(growths) > groups[0].u:
        # growth either presses the part into the wheel or, cooling again before each pass, hardly does
        return (
            Hypothesis(honest / 2, push=0.0, u_push=0.1),
            Hypothesis(honest / 2, push=0.9, u_push=0.15),
            *cases,
        )
    return (Hypothesis(honest), *cases)


def _hot(prior: Prior, push: float) -> tuple[Hypothesis, Hypothesis, Hypothesis]:
    """Heat that no probe sees: little coolant, none, and one that fails at any time."""
    wet, dry = 0.5 * prior.heat * (1.0 - prior.bare), 0.5 * prior.heat * prior.bare
    return (
        Hypothesis(wet, heat=prior.wet, rate=2.0 * prior.wet, cooling=prior.cooling, push=push),
        Hypothesis(dry, heat=prior.dry, rate=2.0 * prior.dry, push=push),
        Hypothesis(0.5 * prior.failing, heat=prior.wet, rate=1.0, unsteady=0.3, push=push),
    )


def _both(wheel: Hypothesis, warm: Hypothesis, part: float) -> Hypothesis:
    """A wheel's trouble on a part that surely gets warm."""
    return warm._replace(
        weight=wheel.weight * part, glazing=wheel.glazing, air=wheel.air, scatter=wheel.scatter
    )


def _drawn_back(strokes: Sequence[Stroke]) -> bool:
    """Whether the wheel was drawn back and not fed since: nothing comes off, and the part is not done."""
    moved = [stroke.infeed for stroke in strokes if stroke.infeed]
    return bool(moved) and moved[-1] < 0.0


def _nothing_yet(groups: Sequence[RepeatedReadings], number: int) -> bool:
    """Whether the wheel may have been in the air for the first *number* passes."""
    firsts: dict[int, RepeatedReadings] = {}
    for group in groups:
        if group.after <= number:
            first = firsts.setdefault(group.place, group)
            if abs(group.mean - first.mean) > 6.0 * group.u + group.resolution:
                return False
    return True
