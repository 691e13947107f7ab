"""Lengths as the job's people say them: millimetres and micrometres, or inches and tenths.

A minus is U+2212, as wide and as high as the plus, on every screen and paper.
"""

from __future__ import annotations

from math import ceil

from capture.metrology.message import Length
from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Units
from capture.text.rounded import WHOLE_SMALL, decimals, inward, quantum, rounded

TENTH = MM_PER_INCH / 10_000
"""A tenth is 0.0001 in."""
NOTHING = 0.00005
"""mm; less of a difference reads as nothing in micrometres too."""
_UIN = {0.025: 1, 0.05: 2, 0.1: 4, 0.2: 8, 0.4: 16, 0.8: 32, 1.6: 63, 3.2: 125, 6.3: 250, 12.5: 500}
"""The preferred mean roughnesses Ra, µm, and what each is called in microinches (ASME B46.1)."""


def size(value: float | None, units: Units, places: int = 4, *, step: float | None = None) -> str:
    """A whole size; with the *step* (mm) of the gauge that gave it, no finer than that.

    >>> size(55.00214, "mm"), size(55.00214, "in"), size(None, "mm"), size(55.00214, "mm", step=0.001)
    ('55.0021 mm', '2.16544 in', '–', '55.002 mm')
    """
    if value is None:
        return "–"
    if step:
        value = rounded(value, step, units)
        places = decimals(step, units) - (units == "in")
    return minus(f"{value / MM_PER_INCH:.{places + 1}f} in" if units == "in" else f"{value:.{places}f} mm")


def small(
    value: float | None, units: Units, places: int = 1, *, signed: bool = False, step: float | None = None
) -> str:
    """A difference: micrometres, or tenths; what reads as nothing in tenths alone is in millionths.

    With the *step* (mm) of the gauges that gave it, no finer than that.

    >>> small(0.0052, "mm"), small(0.00508, "in"), small(-0.001, "mm", signed=True)
    ('5.2 µm', '2.0 tenths', '−1.0 µm')
    >>> small(0.0001, "in"), small(0.00001, "in"), small(0.0025, "in", 0)
    ('4 millionths', '0.0 tenths', '1 tenth')
    >>> small(0.0052, "mm", step=0.001), small(0.0052, "mm", step=0.0001)
    ('5 µm', '5.2 µm')
    """
    if value is None:
        return "–"
    if step:
        value = rounded(value, step, units)
        places = min(max(decimals(step, units) - WHOLE_SMALL[units], 0), places)
    sign = "+" if signed else ""
    number = value / TENTH if units == "in" else value * 1000
    text = f"{number:{sign}.{places}f}"
    if float(text) == 0:
        if units == "in" and step is None and abs(value) >= NOTHING:
            return minus(f"{100 * number:{sign}.0f} millionths")
        text = f"{0:.{places}f}"
    if units == "in":
        return minus(f"{text} {'tenth' if text.lstrip('+-') == '1' else 'tenths'}")
    return minus(f"{text} µm")


def short(value: float, units: Units) -> str:
    """A difference as somebody set it, as short as it goes.

    >>> short(0.006, "mm"), short(0.00254, "in"), short(0.0127, "in"), short(0.00487, "mm")
    ('6 µm', '1 tenth', '5 tenths', '4.9 µm')
    """
    number = value / TENTH if units == "in" else value * 1000
    text = f"{number:.1f}".removesuffix(".0") if abs(number) >= 1.0 else f"{number:.2g}"
    return minus(f"{text} {'µm' if units == 'mm' else 'tenth' if text == '1' else 'tenths'}")


def within(u: float | None, units: Units, step: float | None = None) -> str:
    """How far a figure may be off, rounded up to the last decimal of the figure, so that it is never nothing.

    >>> within(0.0012, "mm", 0.001), within(0.00001, "mm"), within(None, "mm")
    ('2 µm', '0.1 µm', '–')
    """
    if u is None:
        return "–"
    one = quantum(step, units)
    return small(max(ceil(u / one - 1e-6), 1) * one, units, step=step or one)


def band(ends: tuple[float, float], units: Units, step: float | None = None) -> tuple[str, str]:
    """Both ends of a band of sizes, drawn in to what the gauge of *step* (mm) shows, as far as that goes.

    >>> band((54.9954, 54.9978), "mm", 0.001), band((54.9954, 54.9958), "mm", 0.001)
    (('54.996 mm', '54.997 mm'), ('54.9954 mm', '54.9958 mm'))
    """
    low, high, by = _drawn_in(ends, units, step)
    return size(low, units, step=by), size(high, units, step=by)


def small_band(ends: tuple[float, float], units: Units, step: float | None = None) -> tuple[str, str]:
    """Both ends of a band of differences, drawn in likewise.

    >>> small_band((0.0047, 0.0063), "mm", 0.001), small_band((0.003, 0.008), "mm", 0.001)
    (('5 µm', '6 µm'), ('3 µm', '8 µm'))
    """
    low, high, by = _drawn_in(ends, units, step)
    return small(low, units, step=by), small(high, units, step=by)


def _drawn_in(
    ends: tuple[float, float], units: Units, step: float | None
) -> tuple[float, float, float | None]:
    """Both ends and the step in which they are shown; as they are, and no step, where none lies between."""
    drawn = inward(*ends, step, units)
    return (*ends, None) if drawn is None else (*drawn, step)


def minus(text: str) -> str:
    """A number with the minus that stands as high as a plus; nothing has no sign.

    >>> minus("-1.0 µm"), minus("-0.0 µm")
    ('−1.0 µm', '0.0 µm')
    """
    if not text.startswith("-"):
        return text
    return (
        f"−{text[1:]}" if any(digit in text.split(" ", maxsplit=1)[0] for digit in "123456789") else text[1:]
    )


def place(z: float, units: Units) -> str:
    """A place along a part, as short as it goes: to a thousandth of an inch.

    >>> place(140.0, "mm"), place(140.0, "in"), place(63.5, "in")
    ('140 mm', '5.512 in', '2.5 in')
    """
    return minus(f"{round(z / MM_PER_INCH, 3):g} in" if units == "in" else f"{z:g} mm")


def thickness(value: float, units: Units) -> str:
    """A thickness, a runout, a gauge's step: a length as somebody set it, as short as it goes.

    >>> thickness(0.0127, "mm"), thickness(0.00127, "in")
    ('0.0127 mm', '0.00005 in')
    """
    text = f"{value / MM_PER_INCH:.5f}" if units == "in" else f"{value:.6f}"
    return f"{text.rstrip('0').rstrip('.')} {units}"


def indicator(moved: float, units: Units) -> str:
    """A movement with its sign, as the indicator at the table shows it: micrometres, or inches.

    >>> indicator(0.0123, "mm"), indicator(-0.0127, "in")
    ('+12.3 µm', '−0.00050 in')
    """
    return minus(f"{moved / MM_PER_INCH:+.5f} in" if units == "in" else f"{moved * 1000:+.1f} µm")


def length(it: Length, units: Units, step: float | None = None) -> str:
    """A length that something found, in the way in which people write such a length.

    A diameter and a difference are no finer than the *step* (mm) of the gauge, where that is given.

    >>> length(Length(0.0127, "thickness"), "mm"), length(Length(0.0127, "thickness"), "in")
    ('0.0127 mm', '0.0005 in')
    >>> length(Length(0.001, "short"), "mm"), length(Length(0.0008, "roughness"), "in")
    ('1 µm', '32 µin Ra')
    """
    match it.way:
        case "size":
            return size(it.mm, units, step=step)
        case "small" if step and it.by_step == "up":
            return within(it.mm, units, step)
        case "small":
            step = step if it.by_step == "round" else None
            return small(it.mm, units, it.places, signed=it.signed, step=step)
        case "short":
            return short(it.mm, units)
        case "place":
            return place(it.mm, units)
        case "thickness":
            return thickness(it.mm, units)
        case "indicator":
            return indicator(it.mm, units)
        case "roughness":
            return _roughness(it.mm * 1000, units)


def _roughness(um: float, units: Units) -> str:
    if units == "mm":
        return f"{um:g} µm Ra"
    return f"{_UIN.get(round(um, 3), round(1000 * um / MM_PER_INCH))} µin Ra"


def cause(u: float, unit: str, units: Units) -> str:
    """How far one cause of an uncertainty may be off, in the unit in which engineers write it.

    A coefficient of expansion, 1/K, is said for each metre (or inch) and kelvin; a pure number for each metre
    (or inch) of the length.

    >>> cause(0.0005, "mm", "mm"), cause(0.0577, "K", "mm"), cause(5.77e-7, "1/K", "mm")
    ('0.5 µm', '0.058 K', '0.58 µm/(m·K)')
    >>> cause(3.3e-8, "1", "in")
    '0.033 µin/in'
    """
    over = {"mm": ("µm", "m"), "in": ("µin", "in")}[units]
    match unit:
        case "mm":
            return small(u, units)
        case "1/K":
            return f"{1e6 * u:.2g} {over[0]}/({over[1]}·K)"
        case "1":
            return f"{1e6 * u:.2g} {over[0]}/{over[1]}"
        case _:
            return f"{u:.2g} {unit}"


def percent(share: float) -> str:
    """A share as people write it.

    >>> percent(0.523)
    '52 %'
    """
    return f"{100 * share:.0f} %"


def sure(probability: float) -> str:
    """A probability in per cent; what rounds to certainty is not said to be certain.

    >>> sure(0.9731), sure(0.99998), sure(1e-9)
    ('97.3 %', 'more than 99.9 %', 'less than 0.1 %')
    """
    if probability > 0.9995:
        return "more than 99.9 %"
    if probability < 0.0005:
        return "less than 0.1 %"
    return f"{100 * probability:.1f} %"
