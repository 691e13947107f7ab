"""Settings: the limits that a person may set, each with its default and where that comes from.

Lengths are millimetres whatever the sheet was written in.
"""

from __future__ import annotations

import difflib
from math import isfinite

import msgspec
from msgspec import Struct


class SparkOut(Struct, frozen=True):
    """When the wheel has sparked out."""

    limit: float = 0.0005
    """Still to come by the next pass without infeed, millimetres on diameter."""
    confidence: float = 0.95
    """Share of the calls that are to be right; `metrology.grinding.call_bound` says what one call needs."""


class Warm(Struct, frozen=True):
    """When a part is too warm to be called done."""

    limit: float = 0.0005
    """Growth above its size at 20 °C, millimetres on diameter."""
    max_age: float = 300.0
    """Seconds after which a temperature no longer speaks for the part."""


class Growing(Struct, frozen=True):
    """When a part is said to be getting larger."""

    confidence: float = 0.95


class Readings(Struct, frozen=True):
    """When a reading is the one before it, sent once more."""

    repeat: float = 0.2
    """Seconds in which no hand brings a gauge to another place: the same bytes from the same gauge within
    them are recorded, and not taken again (common practice, no source)."""


class Passes(Struct, frozen=True):
    """How passes are found that nobody told."""

    find: bool = True
    """Take a place measured again, with no pass told, as a new pass with infeed not known."""


class SweepSettings(Struct, frozen=True):
    """When the sweep of a bore gauge at a station is a reading, and how the gauge is understood."""

    u: float = 0.0003
    """Standard uncertainty at which a station is accepted, mm; or a coarse gauge's own floor, if more."""
    points: int = 3
    """Least number of turning points."""
    tilt: float = 0.75
    """Least tilt to either side that is a rock, degrees (common practice, no source)."""
    interval: float = 0.4
    """Seconds between readings up to which a gauge that the sheet says nothing about is streaming."""
    redo: float = 2.0
    """Seconds within which withdrawing and entering again sets the last accepted reading aside."""
    pause: float = 1.5
    """Seconds for which an accepted place may be held still without having been left."""
    out: float = 0.25
    """mm from the bore's size at which the gauge is out of the bore."""
    reach: float = 0.4
    """mm from the nominal, or from the master, at which a gauge whose zero is known can't be in the bore."""
    aside: float = 0.05
    """mm off the middle at which a hand may hold the gauge, either way, without the readings showing it; for
    one without centring shoes more (common practice, no source)."""


class Masters(Struct, frozen=True):
    """How far a mastered gauge is believed, and when it is checked (all: common practice, no source)."""

    check_after: float = 1800.0
    """Seconds since it was set."""
    check_warm: float = 2.0
    """Kelvin of change since it was set."""
    drift: float = 0.001
    """Between two checks on the master, millimetres; a run with more does not stand."""
    farthest: float = 0.025
    """From the master's size, millimetres; beyond it the gauge's own error comes in."""


class Form(Struct, frozen=True):
    """What two-point gauges do not see, taken off the smallest clearance; 0: nothing is known of it."""

    odd_bore: float = 0.0
    """Amplitude of the bore's odd lobes, half the radial peak-to-valley, millimetres."""
    odd_shaft: float = 0.0
    bow: float = 0.0
    """Straightness deviation of the axis over the engaged length, millimetres."""


class ProofSettings(Struct, frozen=True):
    """What grinding needs of the band that is left after guarding."""

    band: float = 0.001
    """Its width, millimetres: about one last pass (common practice, no source)."""


class Plan(Struct, frozen=True):
    """What the stock to grind must be enough for, on diameter (common practice, no source)."""

    taper: float = 0.005
    """Taper to be expected at first, millimetres."""
    times_taper: float = 2.0
    spring: float = 0.015
    """What the sprung machine takes off by itself after infeed stops, millimetres."""
    margin: float = 0.025
    """For heat and a last look, millimetres."""


class Coach(Struct, frozen=True):
    """What the advice at the grinder keeps to."""

    undersize: float = 0.01
    """Chance of ending under the guarded band that is allowed."""
    finish: float = 0.005
    """Deepest finishing pass, millimetres on diameter: 0.0002 in, the Handbook's least for hardened alloy
    steel (Machinery's Handbook, 31st edition, p. 1318, Table 3)."""
    rough: float = 0.010
    """Deepest pass before that: a trade text's most for hard chrome."""
    last_stock: float = 0.025
    """Stock from which on passes are finishing passes and before which the wheel is dressed, millimetres on
    diameter (common practice, no source)."""
    contact: float = 0.010
    """Depth up to which the wheel may stand in the part when it was touched off, millimetres on diameter."""
    parallel: float = 0.00125
    """Taper over the stations that is good enough, millimetres on diameter (common practice, no source)."""
    division: float = 0.001
    """Of an infeed dial that the sheet says nothing of, millimetres in the dial's own habit."""
    dress: bool = True
    """Whether to be reminded to dress before the last stock."""


class Settings(Struct, frozen=True):
    """Limits that a person may set, on the sheet or with ``--set key=value``."""

    spark_out: SparkOut = SparkOut()
    warm: Warm = Warm()
    growing: Growing = Growing()
    readings: Readings = Readings()
    passes: Passes = Passes()
    sweep: SweepSettings = SweepSettings()
    masters: Masters = Masters()
    form: Form = Form()
    proof: ProofSettings = ProofSettings()
    plan: Plan = Plan()
    coach: Coach = Coach()


def with_setting(settings: Settings, key: str, value: object) -> Settings:
    """*settings* with one of them changed, as ``--set key=value`` says it; lengths in millimetres.

    Raises:
        ValueError: No such setting, or a value that it can't have.
    """
    group_name, _, leaf = key.partition(".")
    group = getattr(settings, group_name, None) if group_name in settings.__struct_fields__ else None
    if group is None or leaf not in group.__struct_fields__:
        known = [
            f"{g}.{k}" for g in settings.__struct_fields__ for k in getattr(settings, g).__struct_fields__
        ]
        near = difflib.get_close_matches(key, known, 1)
        raise ValueError(
            f"{key}: no such setting; "
            + (f"did you mean {near[0]}?" if near else "there are " + ", ".join(known))
        )
    kind = type(getattr(group, leaf))
    try:
        converted = msgspec.convert(value, kind, strict=False)
    except msgspec.ValidationError:
        raise ValueError(f"{key}: came {value!r}, due {_DUE[kind]}") from None
    if kind is float and not (isfinite(converted) and converted > 0):
        raise ValueError(f"{key}: came {value!r}, due a number above 0")
    if kind is int and converted < 3:
        raise ValueError(f"{key}: came {value!r}, due a whole number of at least 3")
    if leaf == "confidence" and not 0.5 < converted < 1:
        raise ValueError(f"{key}: came {value!r}, due a number between 0.5 and 1")
    return msgspec.structs.replace(
        settings, **{group_name: msgspec.structs.replace(group, **{leaf: converted})}
    )


_DUE = {float: "a number", bool: "true or false", int: "a whole number", str: "a text"}
