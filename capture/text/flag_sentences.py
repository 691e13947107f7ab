"""What the program says of itself and of the gauges, by the name of the flag."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from capture.events import Flag
from capture.sheet.job import Units
from capture.text.lengths import minus, place, size, thickness

FLAG_SENTENCES: Final[dict[str, str]] = {
    "unit-differs": (
        "{gauge} sends {unit} and the sheet says {due}: readings are converted; is the gauge set right?"
    ),
    "digits-fewer": (
        "{gauge} shows {came:.0f} decimals and the sheet promises a resolution of {step}: "
        "is it set to its fine step?"
    ),
    "garbled": (
        "{gauge}: the last {came:.0f} lines cannot be read ({why}). "
        "Check its baud rate and parity, or teach it"
    ),
    "sign-differs": (
        "{gauge} reads less on the larger master: it counts the other way than its sign on the sheet says; "
        "nothing measured with it is right until that is mended"
    ),
    "check-master": "{gauge} was set on its master {since}: check it there again",
    "silent": "{gauge} has sent nothing for {came:.0f} s: is it on? Is its cable in, or its radio in reach?",
    "wild-reading": (
        "{value_shown}{at} is {apart_shown} {side} the others, {others_shown}. It is set aside: measure "
        "there again. Is it wrong? Say no if it is right"
    ),
    "reading-agrees": "{value_shown}{at}, set aside before, is taken: a second reading agrees with it",
    "power-stopped": "{gauge} stopped in a pass: say pass for what is made while it is silent",
    "power-still": (
        "{gauge} has not moved while the part became smaller: is it on this wheel's drive, fine enough, and "
        "with the right register?"
    ),
    "power-scale": "{gauge} shows {value:g} {unit}, as no drive does: are unit, scale and sign right?",
    "ride-lifted": "{gauge} is said to ride on the part and is off it: put it on, or strike `rides`",
    "ride-differs": (
        "{gauge} rides {apart_shown} off what was measured by hand and goes on as it was set: has it moved "
        "or drifted, or is the hand measurement wrong?"
    ),
    "ride-stopped": "{gauge} stopped in the middle of a pass: is its cable or radio in reach?",
    "ride-unset": "{gauge} rides and was not set: measure the part once by hand while the wheel is clear",
    "ride-twice": "{gauge} rides where {other} does: passes are counted by {other} alone; is `rides` right?",
    "infeed-zeroed": (
        "{gauge} leapt by {moved_shown} to 0 while the head stood: it is taken to be set to 0 there. "
        "Say no if the head was moved"
    ),
    "infeed-sign": (
        "{gauge} counts down as the wheel is fed: its sign on the sheet is the wrong way round. "
        "It is read the other way; say no if it is right"
    ),
    "infeed-beyond": (
        "{gauge} moved {moved_shown}, more than the largest infeed of one pass ({most_shown}): the infeed is "
        "not known. Was its display set anew? Say the infeed, as pass 0.005"
    ),
    "passes-unsure": "{passes:.0f} {noun} before this size? Say no if it was {instead:.0f}",
    "disk": "the disk is slow: {late:.0f} readings or words were kept late, {lost:.0f} were lost",
}


def flag_text(flag: Flag, units: Units | None = None) -> str | None:
    """What *flag* says to a person beyond its name; None where its name says it all.

    Lengths are in *units*, or in those of the job. A recording of an older program carries the text itself.

    >>> flag_text(Flag("disk", 0, (), {"late": 3.0, "lost": 0.0}))
    'the disk is slow: 3 readings or words were kept late, 0 were lost'
    """
    if flag.text or flag.what not in FLAG_SENTENCES:
        return flag.text or None
    figures = {**flag.figures, **flag.settings}
    shown: Units = units or ("in" if figures.get("unit") == "in" else "mm")
    try:
        fields = {"gauge": flag.gauge, "step": _step(figures), "since": _since(figures), **figures}
        fields |= _of_sizes(figures, shown) if "others" in figures else _lengths(figures, shown)
        fields["noun"] = "pass" if figures.get("passes") == 1 else "passes"
        return FLAG_SENTENCES[flag.what].format(**fields)
    except (KeyError, TypeError, ValueError):  # another program's flag, by this name with other figures
        return None


def _step(figures: Mapping[str, float | str | None]) -> str:
    """The step that the sheet promises, in the gauge's own unit."""
    step = float(figures.get("resolution") or 0.0)
    if figures.get("unit") == "degC":
        return f"{step:g} K"
    if figures.get("unit") in {"W", "kW", "%"}:
        return f"{step:g} %" if figures.get("unit") == "%" else f"{step:g} W"
    return thickness(step, "in" if figures.get("unit") == "in" else "mm")


def _of_sizes(figures: Mapping[str, float | str | None], units: Units) -> dict[str, str]:
    """A size, where it was measured, and how far it is from the others."""
    apart, z = float(figures["apart"] or 0.0), figures.get("z")
    return {
        "value_shown": size(float(figures["value"] or 0.0), units, 3),
        "others_shown": size(float(figures["others"] or 0.0), units, 3),
        "apart_shown": size(abs(apart), units, 3),
        "side": "above" if apart > 0 else "below",
        "at": "" if z is None else f" at {place(float(z), units)}",
    }


def _lengths(figures: Mapping[str, float | str | None], units: Units) -> dict[str, str]:
    """How far two sizes are apart, how far a gauge moved, and the most that it may: lengths without sign.

    One that *figures* lack is not there, so that no sentence says 0 of what is not known.
    """
    known = {name: figures.get(name) for name in ("apart", "moved", "most")}
    return {f"{name}_shown": thickness(abs(float(mm)), units) for name, mm in known.items() if mm is not None}


def _since(figures: Mapping[str, float | str | None]) -> str:
    """How long ago, or how many kelvin away."""
    before, change = figures.get("before"), figures.get("change")
    if figures.get("warmer") and before is not None and change is not None:
        place = figures.get("place", "")
        return f"at {float(before):.1f} °C ({place}), which is {minus(f'{float(change):+.1f}')} K now"
    return f"{float(figures.get('age') or 0.0) / 60:.0f} min ago"
