"""Lobes of the part, from the harmonics that set-ups showed, freed of the axis where they allow.

Each run shows ``row . (c_n, X_n, Y_n)`` (`capture.metrology.form.contacts.row`): the lobes of the part and
the movement of the axis on which it turns. Three gauges round the part, or a part turned in its driver with
the gauge moved to the other side (reversal), give rows enough to solve for all; a V or two points do not see
the axis at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, hypot, sqrt
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

from capture.metrology.form.contacts import LOBES, RoundnessSetup, factor, row
from capture.metrology.form.lobes import SEES_LOBES
from capture.metrology.uncertainty.propagation import Array

Reason: TypeAlias = Literal["contacts", "angles", "slow", "noise"]
"""Why a lobe count is not seen: the contacts pass it by; readings fall on too few angles; the gauge gives
too few readings a turn; it is lost in the noise."""

U_SEEN = 0.00015
"""mm, standard uncertainty up to which a lobe counts as seen: 0.3 µm at k = 2."""
CLEAR = 2.86
"""Standard uncertainties of an amplitude clear of noise: 99 % of Rayleigh's distribution lie below 3.03
before what noise adds is taken off, the root of 3.03² - 1 after; 14 lobes are looked at."""
STANDS = 5.0
"""Standard uncertainties from which a lobe is seen however uncertain its amplitude is."""
U_V = 0.1
"""Degrees, standard uncertainty of the angle of a V (common practice, no source)."""
SLOW = 0.3
"""Share of a lobe that a gauge's averaging leaves, under which it counts as not seen."""


class RunHarmonics(Struct, frozen=True):
    """What one gauge showed in one run."""

    setup: RoundnessSetup
    shown: dict[int, complex]
    """``a_n - i b_n`` of each harmonic, mm; 1 is eccentricity."""
    u: dict[int, float]
    """Standard uncertainty of a coefficient of it, mm."""
    phased: bool
    """Whether angles count from a mark on the part or from angles that were given."""
    group: int = 0
    """Runs of one group were read in the same turns and share their angles exactly."""
    u_angle: float = 0.0
    """Standard uncertainty of where its angles begin, radians."""
    unsure: tuple[int, ...] = ()
    """Lobes that the gauge is too slow for."""
    response: dict[int, float] = {}
    """Share of a lobe that the gauge's averaging leaves."""


class Lobe(Struct, frozen=True):
    """One lobe count of the part."""

    lobes: int
    amplitude: float | None
    """Half the radial peak-to-valley, mm; None where no set-up shows it."""
    u: float | None
    phase: float | None
    """Angle of a top from the mark, degrees from 0 up to 360 over the lobes; None where it means nothing."""
    factor: float
    """The largest factor by which a set-up showed it."""
    unseen: Reason | None
    """Why it counts as not seen; None where it is seen."""
    separated: bool
    """Whether the movement of the axis is out of it."""

    @property
    def clear(self) -> bool:
        """Whether it stands clear of its uncertainty."""
        return self.amplitude is not None and self.u is not None and self.amplitude > CLEAR * self.u


class RoundForm(Struct, frozen=True):
    """The form that the seen lobes make together, mm."""

    roundness: float
    """Radial peak-to-valley about the least-squares circle (RONt of ISO 12181-1)."""
    u_roundness: float
    odd: float
    """Amplitude of the odd lobes together: what a two-point gauge does not see of the mating size, each
    side."""
    u_odd: float
    in_phase: bool
    """Whether phases were known; else amplitudes are added up, which is the most that they can make."""
    profile: tuple[float, ...]
    """Radius less its mean at every degree; empty where phases are not known."""


class _Estimate(Struct, frozen=True):
    value: complex
    u: float
    phased: bool
    separated: bool


def lobes_of(runs: Sequence[RunHarmonics], lobes: Sequence[int] = LOBES) -> tuple[Lobe, ...]:
    """The lobes of a part from what runs showed of it."""
    return tuple(_lobe(n, runs) for n in lobes)


def form_of(lobes: Sequence[Lobe], runs: Sequence[RunHarmonics]) -> RoundForm:
    """Roundness and odd lobes from the lobes that stand clear of their uncertainty."""
    clear = [one for one in lobes if one.clear and one.amplitude is not None and one.u is not None]
    in_phase = all(one.phase is not None for one in clear) or _of_one_run(runs)
    odd = [one for one in clear if one.lobes % 2]
    u_odd = sqrt(sum((one.u or 0.0) ** 2 for one in lobes if one.lobes % 2 and one.unseen is None))
    if not in_phase:
        whole = 2 * sum(one.amplitude or 0.0 for one in clear)
        u = 2 * sqrt(sum((one.u or 0.0) ** 2 for one in lobes if one.unseen is None))
        return RoundForm(whole, u, sum(one.amplitude or 0.0 for one in odd), u_odd, False, ())
    theta = np.radians(np.arange(360.0))
    waves = {one.lobes: _wave(one, runs, theta) for one in clear}
    profile = sum(waves.values(), np.zeros(360))
    high, low = theta[int(np.argmax(profile))], theta[int(np.argmin(profile))]
    u = sqrt(
        sum(
            (one.u or 0.0) ** 2 * (2 - 2 * cos(one.lobes * (high - low)))
            for one in lobes
            if one.unseen is None
        )
    )
    odd_profile = sum((waves[one.lobes] for one in odd), np.zeros(360))
    return RoundForm(
        float(np.ptp(profile)), u, float(np.ptp(odd_profile)) / 2, u_odd, True, tuple(profile.tolist())
    )


def _of_one_run(runs: Sequence[RunHarmonics]) -> bool:
    """Whether all angles count from one beginning, though no reading marks it."""
    return len({run.group for run in runs}) == 1


def _wave(lobe: Lobe, runs: Sequence[RunHarmonics], theta: Array) -> Array:
    top = lobe.phase
    if top is None:
        surest = min((run for run in runs if lobe.lobes in run.shown), key=lambda run: run.u[lobe.lobes])
        by = row(lobe.lobes, surest.setup)[0]
        top = float(-np.angle(surest.shown[lobe.lobes] / by, deg=True) / lobe.lobes) if by else 0.0
    found: Array = (lobe.amplitude or 0.0) * np.cos(lobe.lobes * (theta - np.radians(top)))
    return found


def axis_movement(
    runs: Sequence[RunHarmonics], lobes: Sequence[int] = LOBES
) -> dict[int, tuple[float, float]]:
    """Amplitude of the axis' movement with each lobe count, and its u, mm, where it separates."""
    found = {}
    for n in lobes:
        solved = _solved(n, _in_phase(n, runs))
        if solved is not None:
            movement, covariance = solved[1:, 0], solved[1:, 1]
            found[n] = (float(np.linalg.norm(movement)), float(np.sqrt(np.abs(covariance).sum())))
    return found


def _lobe(n: int, runs: Sequence[RunHarmonics]) -> Lobe:
    factors = [abs(factor(n, run.setup)) * run.response.get(n, 1.0) for run in runs]
    best = max(factors, default=0.0)
    seeing = [run for run in runs if n in run.shown and n not in run.unsure]
    among = _estimates(n, seeing)
    if not among:
        return Lobe(n, None, None, None, best, _why_none(n, runs), separated=False)
    separated = [one for one in among if one.separated]
    pool = (
        separated
        if separated and min(one.u for one in separated) <= 3 * min(one.u for one in among)
        else among
    )
    weights = np.array([1 / one.u**2 for one in pool])
    u = sqrt(1 / float(weights.sum()))
    shown = float(np.average([abs(one.value) for one in pool], weights=weights))
    # noise makes an amplitude too large, in the mean of its square by that of the noise across it
    amplitude = sqrt(max(shown**2 - u**2, 0.0))
    surest = min(pool, key=lambda one: one.u)
    top = float(-np.angle(surest.value, deg=True) / n % (360 / n))
    seen = u <= U_SEEN or amplitude > STANDS * u
    return Lobe(
        lobes=n,
        amplitude=amplitude,
        u=u,
        phase=top if surest.phased and amplitude > CLEAR * u else None,
        factor=best,
        unseen=None if seen else "angles" if best >= 0.3 else "noise",
        separated=all(one.separated for one in pool),
    )


def _why_none(n: int, runs: Sequence[RunHarmonics]) -> Reason:
    if all(abs(factor(n, run.setup)) < SEES_LOBES for run in runs):
        return "contacts"
    return "slow" if any(n in run.unsure or run.response.get(n, 1.0) < SLOW for run in runs) else "angles"


def _estimates(n: int, runs: Sequence[RunHarmonics]) -> list[_Estimate]:
    found = []
    centres = [run for run in runs if run.setup.contacts == "centres" and run.response.get(n, 1.0) >= SLOW]
    solved = _solved(n, _in_phase(n, centres))
    if solved is not None:
        found.append(
            _Estimate(complex(solved[0, 0]), sqrt(abs(solved[0, 1])), _in_phase(n, centres)[0].phased, True)
        )
    for run in runs:
        if run.setup.contacts == "centres" and solved is not None:
            continue
        by = row(n, run.setup)[0] * run.response.get(n, 1.0)
        if abs(by) < SEES_LOBES or run.response.get(n, 1.0) < SLOW:
            continue
        value = run.shown[n] / by
        u = hypot(run.u[n] / abs(by), abs(value) * _u_factor(n, run.setup) / abs(by))
        found.append(_Estimate(value, max(u, 1e-9), run.phased, run.setup.contacts != "centres"))
    return found


def _u_factor(n: int, setup: RoundnessSetup) -> float:
    """What the angle of a V leaves open of its factor."""
    if setup.contacts not in {"v", "saddle"}:
        return 0.0
    wider = RoundnessSetup(setup.contacts, min(setup.angle + U_V, 179.9), setup.offset)
    return abs(factor(n, wider) - factor(n, setup))


def _in_phase(n: int, runs: Sequence[RunHarmonics]) -> list[RunHarmonics]:
    """Runs between centres whose angles count from one mark: those of one group, or with a mark each."""
    centres = [run for run in runs if run.setup.contacts == "centres" and n in run.shown]
    marked = [run for run in centres if run.phased]
    groups = {run.group for run in centres}
    alike = [[run for run in centres if run.group == group] for group in groups]
    return max([marked, *alike], key=len, default=[])


def _solved(n: int, runs: Sequence[RunHarmonics]) -> Array | None:
    """Part and axis of a harmonic, each with its variance; None where the runs do not separate them."""
    if len({(run.setup.at % 360, run.setup.turned % 360) for run in runs}) < 2:
        return None
    rows = np.array([np.array(row(n, run.setup)) * run.response.get(n, 1.0) for run in runs])
    used = [0, *(k for k in (1, 2) if np.abs(rows[:, k]).max() > 1e-9)]
    model = rows[:, used]
    u = np.array([hypot(run.u[n], n * run.u_angle * abs(run.shown[n])) for run in runs])
    _, sizes, right = np.linalg.svd(model, full_matrices=False)
    resolved = right[sizes > SEES_LOBES]
    if float((np.abs(resolved[:, 0]) ** 2).sum()) < 0.999:
        return None
    inverse = np.linalg.pinv(model, rcond=SEES_LOBES / max(float(sizes[0]), 1e-9))
    shown = np.array([run.shown[n] for run in runs])
    found = np.zeros((3, 2), dtype=complex)
    found[used, 0] = inverse @ shown
    found[used, 1] = (np.abs(inverse) ** 2) @ u**2
    return found
