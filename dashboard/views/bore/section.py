"""The bore cut along its axis: both walls with their shape drawn too large, and the gauge in it.

A two-point gauge tells a diameter and not where its axis lies, so both walls are drawn with half of
what the diameter departs, one the mirror of the other. How much too large they are drawn is stated as
the ratio in which departures are drawn larger than the diameter itself.
"""

from __future__ import annotations

from math import ceil, floor, log10
from typing import Any, Final, TypeAlias

from msgspec import Struct

from capture.sheet.job import Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.session import State
from dashboard.text.screen import word
from dashboard.views.bore.shape import Bore, along, bore_of, newest_reading, signed, sizes_of
from dashboard.views.lengths import fine, fine_unit, size

DIRECTIONS: Final = 6
"""Directions that have a line of their own."""
STEPS: Final = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
"""Leading figures that an exaggeration may have."""
GAP: Final = 1.4
"""Half of the hollow, in heights of what the walls depart."""
THICK: Final = 0.5
"""Of a wall, in the same."""
FAR: Final = 2.0
"""Heights away beyond which a limit is not drawn; the lapping box states it."""

FIRST: Final = 4
"""Place of the first direction among the traces."""

Spot: TypeAlias = tuple[float, float]
"""Station and angle."""
Known: TypeAlias = dict[Spot, float]
"""Diameters at 20 °C, mm."""
Line: TypeAlias = dict[str, Any]


class Cut(Struct, frozen=True):
    """Where a diameter comes on the drawing, which is in micrometres or tenths across."""

    units: Units
    middle: float
    """Diameter in the middle of a wall's departures, mm."""
    half: float
    """From the axis to that middle, as drawn."""
    high: float
    """Height of a wall's departures, as drawn."""
    times: float
    """How many times larger departures are drawn than the diameter."""

    def wall(self, value: float) -> float:
        """From the axis to the wall where the diameter is *value* mm."""
        return round(self.half + (fine(value - self.middle, self.units) or 0.0) / 2, 3)

    @property
    def outside(self) -> float:
        """From the axis to where the wall's body ends."""
        return round(self.half + self.high * (0.5 + THICK), 3)


def section(state: State, units: Units) -> dict[str, Any]:
    """Numbers of the section, its title with the exaggeration, and what stands where nothing is measured."""
    bore, route = bore_of(state), state.stations.plan_of("bore")
    sizes = sizes_of(state)
    planned = [(one.z, one.angle or 0.0) for one in route.plan if one.z is not None]
    where = sorted({z for z, _ in [*planned, *sizes]})
    if not where or not bore.reference:
        return _unmeasured()
    lines = _limits(bore, list(sizes.values()))
    cut = _cut([*sizes.values(), *lines] or [bore.reference], units)
    wide = max((where[-1] - where[0]) * 0.09, 1.0)
    ends = [along(where[0] - wide, units), along(where[-1] + wide, units)]
    directions = _directions(state, sizes)
    traces = [
        *_bodies(cut, sizes, directions[:1], wide),
        _across(cut, ends, lines),
        {"x": ends, "y": [0, 0]},
        *_walls(cut, sizes, directions),
        _open(cut, [one for one in planned if one not in sizes]),
        _gauge(cut, sizes, route.here, where),
        _marked(cut, sizes, _newest_place(state), where, bore.reference, step=bore.step, upper=False),
        _marked(cut, sizes, _smallest(bore, sizes), where, bore.reference, step=bore.step, upper=True),
    ]
    return {
        "bore-section-title": word("bore.section-times", times=f"{cut.times:,.0f}".replace(",", " ")),
        "bore-section-none": _note(sizes),
        **_chosen(directions),
        "bore-section#figure": {
            "x": ends,
            "y": [-cut.outside, cut.outside],
            "title": word("trend.axis", unit=fine_unit(units), reference=size(bore.reference, units)),
            "over": word("bore.profile-z", unit=word(f"unit.{units}")),
            "ticks": _ticks(cut, bore.reference),
            "traces": traces,
        },
    }


def _unmeasured() -> dict[str, Any]:
    return {
        "bore-section-title": word("bore.section"),
        "bore-section-none": word("bore.section-none"),
        "bore-section#figure": None,
        **_chosen([]),
    }


def _chosen(directions: list[float]) -> dict[str, Any]:
    """A button for each direction drawn, where there is one to choose."""
    names = [word("bore.map-angle", angle=f"{angle:g}") for angle in sorted(directions)]
    shown = names if len(names) > 1 else []
    found: dict[str, Any] = {"bore-section-directions@hidden": None if shown else ""}
    for n in range(DIRECTIONS):
        found[f"bore-section-direction-{n}"] = shown[n] if n < len(shown) else ""
        found[f"bore-section-direction-{n}@hidden"] = None if n < len(shown) else ""
    return found


def _note(sizes: Known) -> str:
    whole = len({angle for _, angle in sizes})
    if whole > DIRECTIONS:
        return word("bore.section-more", drawn=DIRECTIONS, whole=whole)
    return "" if sizes else word("bore.section-none")


def _limits(bore: Bore, values: list[float]) -> list[float]:
    """The diameter to lap to, and the largest allowed, where they are near enough to be drawn."""
    if bore.guidance is None or not values:
        return []
    reach = FAR * max(max(values) - min(values), 0.002)
    asked = [bore.guidance.goal, bore.guidance.stop_at]
    return [one for one in asked if one is not None and min(values) - reach < one < max(values) + reach]


def _cut(values: list[float], units: Units) -> Cut:
    """The scale by which *values* (mm) fill the walls."""
    span = max(max(values) - min(values), 0.002)
    middle = (max(values) + min(values)) / 2
    most = middle / (GAP * span)
    ten = 10.0 ** floor(log10(most))
    times = max(step * ten for step in STEPS if step * ten <= most)
    return Cut(
        units, middle, (fine(middle, units) or 0.0) / (2 * times), (fine(span, units) or 0.0) / 2, times
    )


def _directions(state: State, sizes: Known) -> list[float]:
    """The directions measured, the newest reading's first: its walls are the ones that are hatched."""
    found = sorted({angle for _, angle in sizes})
    last = _newest_place(state)
    return sorted(found, key=lambda angle: (last is None or angle != last[1], angle))[:DIRECTIONS]


def _newest_place(state: State) -> Spot | None:
    reading = newest_reading(state)
    return (
        None if reading is None or reading.place.z is None else (reading.place.z, reading.place.angle or 0.0)
    )


def _smallest(bore: Bore, sizes: Known) -> Spot | None:
    return min(sizes, key=lambda place: sizes[place]) if sizes and bore.newest is not None else None


def _bodies(cut: Cut, sizes: Known, cuts: list[float], wide: float) -> list[Line]:
    """The cut material of both walls in the direction of the newest reading."""
    bodies: list[Line] = [{"x": [], "y": []}, {"x": [], "y": []}]
    for angle in cuts:
        points = sorted((z, value) for (z, one), value in sizes.items() if one == angle)
        # Nothing is known beyond the outermost place: the body ends a little way off.
        points = [(points[0][0] - wide / 3, points[0][1]), *points, (points[-1][0] + wide / 3, points[-1][1])]
        x = [along(z, cut.units) for z, _ in points]
        y = [cut.wall(value) for _, value in points]
        bodies = [
            {"x": [*x, x[-1], x[0]], "y": [sign * one for one in [*y, cut.outside, cut.outside]]}
            for sign in (1, -1)
        ]
    return bodies


def _across(cut: Cut, ends: list[float], values: list[float]) -> Line:
    """Lines along both walls at the diameters *values*."""
    line: Line = {"x": [], "y": []}
    for value in values:
        for sign in (1, -1):
            line["x"] += [*ends, None]
            line["y"] += [sign * cut.wall(value)] * 2 + [None]
    return line


def _walls(cut: Cut, sizes: Known, directions: list[float]) -> list[Line]:
    """Both walls in each direction, in the order of the angles, so that each has one style."""
    lines: list[Line] = []
    for angle in sorted(directions):
        points = sorted((z, value) for (z, one), value in sizes.items() if one == angle)
        x = [along(z, cut.units) for z, _ in points]
        y = [cut.wall(value) for _, value in points]
        name = word("bore.map-angle", angle=f"{angle:g}")
        lines.append({"name": name, "x": [*x, None, *x], "y": [*y, None, *(-one for one in y)]})
    blank: Line = {"name": "", "x": [], "y": []}
    return [*lines, *[blank] * (DIRECTIONS - len(lines))]


def _open(cut: Cut, places: list[Spot]) -> Line:
    """Stations at which a direction is still to be measured."""
    x = [along(z, cut.units) for z in sorted({z for z, _ in places})]
    return {"x": [*x, *x], "y": [cut.half] * len(x) + [-cut.half] * len(x)}


def _gauge(cut: Cut, sizes: Known, here: PlannedPlace, where: list[float]) -> Line:
    """The gauge across the bore at the place in hand, with its direction."""
    if here.z is None:
        return {"x": [], "y": [], "text": []}
    half = cut.wall(sizes.get((here.z, here.angle or 0.0), cut.middle))
    left = here.z > (where[0] + where[-1]) / 2
    text = word("bore.map-angle", angle=f"{here.angle or 0:g}")
    return {
        "x": [along(here.z, cut.units)] * 3,
        "y": [half, 0, -half],
        "text": ["", f"{text}  " if left else f"  {text}", ""],
        "textposition": "middle left" if left else "middle right",
    }


def _marked(
    cut: Cut,
    sizes: Known,
    place: Spot | None,
    where: list[float],
    reference: float,
    *,
    upper: bool,
    step: float | None = None,
) -> Line:
    """A place of its own on both walls, with what was measured there in the hollow."""
    if place is None or place not in sizes:
        return {"x": [], "y": [], "text": []}
    value = sizes[place]
    name = word("bore.section-smallest" if upper else "bore.section-newest")
    text = f"{name} {signed(value - reference, cut.units, step)}"
    share = (place[0] - where[0]) / ((where[-1] - where[0]) or 1.0)
    lean = "right" if share < 1 / 4 else "left" if share > 3 / 4 else "center"
    return {
        "x": [along(place[0], cut.units)] * 2,
        "y": [cut.wall(value), -cut.wall(value)],
        "text": [text, ""] if upper else ["", text],
        "textposition": f"bottom {lean}" if upper else f"top {lean}",
    }


def _ticks(cut: Cut, reference: float) -> list[list[Any]]:
    """Places of the ticks on both walls, and the departures from the reference that they are of."""
    low = fine(cut.middle - reference, cut.units) or 0.0
    ten = 10.0 ** floor(log10(cut.high))
    step = max(one * ten for one in (1.0, 2.0, 5.0) if one * ten <= cut.high)
    first, last = ceil((low - cut.high) / step - 1e-6), floor((low + cut.high) / step + 1e-6)
    values = [step * n for n in range(first, last + 1)]
    walls = [round(cut.half + (value - low) / 2, 3) for value in values]
    texts = [f"{value:+g}".replace("-", "−") if value else "0" for value in values]
    return [[*walls, *(-one for one in walls)], [*texts, *texts]]
