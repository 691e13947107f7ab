"""Drawings of the record as SVG: profiles of both parts, the map of clearances, size after each pass.

Every text in them is a number or our own word, never a user's.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from html import escape
from itertools import pairwise
from typing import Any

from capture.report.shown_passes import PLATED_BETWEEN
from capture.sheet.job import Units
from capture.text.lengths import TENTH, size

WIDTH, HEIGHT = 720.0, 240.0
LEFT, RIGHT, TOP, BOTTOM = 64.0, 12.0, 14.0, 40.0

Scale = Callable[[float], float]


def profile_plot(part: Mapping[str, Any], points: Sequence[tuple[float, float]], units: Units) -> str:
    """Diameter along a part: a dot a reading, each station's mean with its ±2 u; "" without places."""
    stations = [each for each in part["stations"] if each["z"] is not None]
    if not stations:
        return ""
    middle = sum(each["mean"] for each in stations) / len(stations)
    shown = [away(value, middle, units) for _, value in points]
    bars = [(each["z"], away(each["mean"], middle, units), 2 * step(each["u"], units)) for each in stations]
    ends = [value + sign * u for _, value, u in bars for sign in (-1, 1)]
    x, y = _scales([each["z"] for each in stations], [*shown, *ends])
    line = " ".join(f"{x(z):.1f},{y(value):.1f}" for z, value, _ in bars)
    drawn = [
        f'<line class="u" x1="{x(z):.1f}" x2="{x(z):.1f}" y1="{y(value - u):.1f}" y2="{y(value + u):.1f}"/>'
        for z, value, u in bars
    ]
    drawn.append(f'<polyline class="mean" points="{line}"/>')
    drawn += [
        f'<circle class="dot" cx="{x(z):.1f}" cy="{y(value):.1f}" r="2.5"/>'
        for (z, _), value in zip(points, shown, strict=True)
    ]
    title = f"away from {size(middle, units)}"
    zs = [each["z"] for each in stations]
    return _drawing(drawn, _axes(x, y, zs, [*shown, *ends], units, f"diameter at 20 °C, {title}"))


def passes_plot(passes: Sequence[Mapping[str, Any]], units: Units) -> str:
    """Cold size after each pass, a drawing before each plating and after it; "" with fewer than two sizes."""
    known = [(float(row["number"]), row["value_20c"]) for row in passes if row["value_20c"] is not None]
    plated = [at for at, (one, other) in enumerate(pairwise(known), 1) if other[1] - one[1] > PLATED_BETWEEN]
    settings = [known[start:end] for start, end in pairwise((0, *plated, len(known)))]
    return "".join(_sizes_plot(each, units) for each in settings if len(each) > 1)


def _sizes_plot(known: Sequence[tuple[float, float]], units: Units) -> str:
    end = known[-1][1]
    shown = [(number, away(value, end, units)) for number, value in known]
    x, y = _scales([number for number, _ in shown], [value for _, value in shown])
    line = " ".join(f"{x(number):.1f},{y(value):.1f}" for number, value in shown)
    drawn = [f'<polyline class="mean" points="{line}"/>']
    drawn += [f'<circle class="dot" cx="{x(n):.1f}" cy="{y(v):.1f}" r="2.5"/>' for n, v in shown]
    title = f"cold size after each pass, above {size(end, units)}"
    axes = _axes(x, y, [n for n, _ in shown], [v for _, v in shown], units, title, along="pass")
    return _drawing(drawn, axes)


def clearance_map(
    clearance: Mapping[str, Any],
    limits: Sequence[float],
    units: Units,
    tries: Sequence[Mapping[str, Any]] = (),
) -> str:
    """Clearance by place in the bore and offset of the shaft; "" where the travel is not known.

    Inside the limits the darker the tighter; outside them it is hatched. A trial assembly (as
    `capture.analysis.steps.trial_assembly.tries_beside` gives it) has its feel beside its row, and a
    frame round the tightest place there where it was tight or bound.
    """
    positions = clearance["positions"]
    if not positions:
        return ""
    places = sorted({one["bore"] for each in positions for one in each["places"]})
    high = 26.0
    width = (WIDTH - LEFT - RIGHT) / len(places)
    drawn: list[str] = []
    for row, each in enumerate(positions):
        top = TOP + row * high
        here = [one for one in tries if one["offset"] == each["offset"]]
        line = top + (12 if here else 17)
        drawn.append(f'<text class="axis" x="{LEFT - 6}" y="{line}" text-anchor="end">'
                     f"{_along(each['offset'], units)}</text>")  # fmt: skip
        known = [(one["bore"], one["value"]) for one in each["places"]]
        for column, z in enumerate(places):
            value = _between(known, z)
            if value is not None:
                drawn += _cell(LEFT + column * width, top, width, high, value, limits, units)
        drawn += _felt(here, top, width, high, places)
    bottom = TOP + len(positions) * high
    return _drawing([*drawn, *_map_axes(places, width, bottom, units)], "", bottom + 40)


def _map_axes(places: Sequence[float], width: float, bottom: float, units: Units) -> list[str]:
    """Places in the bore under the map's columns, and what rows and columns are."""
    return [
        *(
            f'<text class="axis" x="{LEFT + (i + 0.5) * width:.1f}" y="{bottom + 14}" text-anchor="middle">'
            f"{_along(z, units)}</text>"
            for i, z in enumerate(places)
            if width > 30 or i % 2 == 0
        ),
        (
            f'<text class="axis" x="{LEFT}" y="{bottom + 32}">across: place in the bore; down: place on the '
            f"shaft at the bore&#8217;s datum end; both {_unit(units)}; clearance in {_step(units)}</text>"
        ),
    ]


def _felt(
    tries: Sequence[Mapping[str, Any]], top: float, width: float, high: float, places: Sequence[float]
) -> list[str]:
    """The feels of one row under its place, and a frame round each place that was tight or bound."""
    if not tries:
        return []
    feels = escape(", ".join(dict.fromkeys(str(one["feel"]) for one in tries)))
    drawn = [f'<text class="axis felt-word" x="{LEFT - 6}" y="{top + 23}" text-anchor="end">{feels}</text>']
    for place in dict.fromkeys(one["bore"] for one in tries if one["feel"] in {"tight", "binds"}):
        left = LEFT + places.index(place) * width + 1.5
        drawn.append(
            f'<rect class="felt" x="{left:.1f}" y="{top + 1.5:.1f}" width="{width - 3:.1f}" '
            f'height="{high - 3:.1f}" fill="none" stroke="#000" stroke-width="3"/>'
        )
    return drawn


def _between(known: Sequence[tuple[float, float]], z: float) -> float | None:
    """The clearance at z: straight between the places worked out, which are all there are bends at."""
    for (low, first), (high, second) in pairwise(known):
        if low <= z <= high:
            return first + (second - first) * (z - low) / (high - low)
    return known[0][1] if known and known[0][0] == z else None


def _cell(
    left: float, top: float, width: float, high: float, value: float, limits: Sequence[float], units: Units
) -> list[str]:
    low, most = limits
    share = min(max((value - low) / (most - low), 0.0), 1.0)
    inside = low <= value <= most
    fill = f"hsl(205 55% {40 + 45 * share:.0f}%)" if inside else "url(#outside)"
    ink = "#fff" if inside and share < 0.45 else "#000"
    return [
        f'<rect x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" height="{high:.1f}" fill="{fill}"/>',
        (
            f'<text class="cell" fill="{ink}" x="{left + width / 2:.1f}" y="{top + 17:.1f}" '
            f'text-anchor="middle">{step(value, units):.1f}</text>'
        ),
    ]


def step(value: float, units: Units) -> float:
    """A difference in micrometres, or in tenths."""
    return value / TENTH if units == "in" else value * 1000.0


def away(value: float, middle: float, units: Units) -> float:
    """How far a size is from the middle, in micrometres or tenths."""
    return step(value - middle, units)


def _scales(across: Sequence[float], up: Sequence[float]) -> tuple[Scale, Scale]:
    low, high = min(across), max(across)
    least, most = min(up), max(up)
    span, height = (high - low) or 1.0, max(most - least, 1.0) * 1.1
    centre = (least + most) / 2

    def x(value: float) -> float:
        return LEFT + (value - low + (0 if high > low else 0.5)) / span * (WIDTH - LEFT - RIGHT)

    def y(value: float) -> float:
        return TOP + (0.5 - (value - centre) / height) * (HEIGHT - TOP - BOTTOM)

    return x, y


def _axes(
    x: Scale,
    y: Scale,
    across: Sequence[float],
    up: Sequence[float],
    units: Units,
    title: str,
    *,
    along: str = "",
) -> str:
    marks = sorted({min(up), (min(up) + max(up)) / 2, max(up)})
    drawn = [
        f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y(v):.1f}" y2="{y(v):.1f}"/>'
        f'<text class="axis" x="{LEFT - 6}" y="{y(v) + 4:.1f}" text-anchor="end">{_signed(v)}</text>'
        for v in marks
    ]
    shown = sorted(set(across))
    for z in shown[:: max(1, len(shown) // 12)]:
        text = f"{z:g}" if along else _along(z, units)
        drawn.append(
            f'<text class="axis" x="{x(z):.1f}" y="{HEIGHT - 22}" text-anchor="middle">{text}</text>'
        )
    below = along or f"place along it, {_unit(units)}"
    drawn.append(
        f'<text class="axis" x="{LEFT}" y="{HEIGHT - 6}">{title}, {_step(units)}; across: {below}</text>'
    )
    return "".join(drawn)


def _signed(value: float) -> str:
    text = f"{value:+.1f}"
    return "0.0" if float(text) == 0 else text


def _along(z: float, units: Units) -> str:
    return f"{z / 25.4:.2f}" if units == "in" else f"{z:g}"


def _unit(units: Units) -> str:
    return "in" if units == "in" else "mm"


def _step(units: Units) -> str:
    return "tenths" if units == "in" else "µm"


def _drawing(drawn: Sequence[str], axes: str, height: float = HEIGHT) -> str:
    return (
        f'<svg viewBox="0 0 {WIDTH:g} {height:g}" role="img" aria-label="plot">'
        '<defs><pattern id="outside" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect width="6" height="6" fill="#fff"/>'
        '<line x1="0" y1="0" x2="0" y2="6" stroke="#b3261e" stroke-width="2"/></pattern></defs>'
        f"{axes}{''.join(drawn)}</svg>"
    )
