"""Settings: the limits that a person may set, each with its default and where that comes from.

Lengths are millimetres whatever the sheet was written in.
"""

from __future__ import annotations

import difflib
from typing import Annotated, Any, Final

import msgspec
from msgspec import Struct

from capture.sheet.schema import PRACTICE, Entry, Key, leaves
from capture.sheet.stream_settings import PlacingSettings

HANDBOOK: Final = "Machinery's Handbook, 31st edition, p. 1318, Table 3"


def _mm(label: str, meaning: str, source: str = PRACTICE) -> Key:
    """A length above 0, in millimetres."""
    return Key(label, meaning, "mm", above=0, source=source)


def _s(label: str, meaning: str) -> Key:
    """A time above 0, in seconds."""
    return Key(label, meaning, "s", above=0, source=PRACTICE)


class SparkOut(Struct, frozen=True):
    """When the wheel has sparked out."""

    limit: Annotated[
        float,
        _mm(
            "Still to come by the next pass",
            "on diameter, by the next pass without infeed: below this the wheel has sparked out",
        ),
    ] = 0.0005
    confidence: Annotated[
        float,
        Key(
            "Share of calls that are to be right",
            "how many calls of spark-out must be right",
            above=0.5,
            below=1,
            source=PRACTICE,
        ),
    ] = 0.95


class Warm(Struct, frozen=True):
    """When a part is too warm to be called done."""

    limit: Annotated[
        float,
        _mm(
            "Growth above the size at 20 °C", "on diameter: above this the part is too warm to be called done"
        ),
    ] = 0.0005
    max_age: Annotated[
        float, _s("A temperature holds for", "an older temperature no longer counts for the part")
    ] = 300.0


class Growing(Struct, frozen=True):
    """When a part is said to be getting larger."""

    confidence: Annotated[
        float,
        Key(
            "Confidence",
            "how surely a part must be getting larger before that is said",
            above=0.5,
            below=1,
            source=PRACTICE,
        ),
    ] = 0.95


class Readings(Struct, frozen=True):
    """When a reading is the one before it, sent once more, and when it is not believed."""

    repeat: Annotated[
        float,
        _s(
            "Sent once more within",
            "the same bytes from the same gauge within this time are one reading sent again",
        ),
    ] = 0.2
    apart: Annotated[
        float,
        _mm(
            "Farthest from the other readings",
            "on diameter: a reading farther from all others of the part is set aside and asked about",
        ),
    ] = 0.1


class Passes(Struct, frozen=True):
    """How passes are found that nobody told."""

    find: Annotated[
        bool,
        Key(
            "Find passes that nobody told",
            "a place measured again, with no pass told, is a new pass with infeed not known",
        ),
    ] = True
    largest: Annotated[
        float,
        _mm(
            "Largest infeed that is found",
            "on diameter: more by the infeed gauge is no infeed of a pass, and is asked about",
        ),
    ] = 0.1


class SweepSettings(Struct, frozen=True):
    """When the sweep of a bore gauge at a station is a reading, and how the gauge is understood."""

    u: Annotated[
        float,
        _mm(
            "Standard uncertainty to accept at",
            "a station is accepted at this uncertainty, or at a coarse gauge's own, if that is larger",
        ),
    ] = 0.0003
    points: Annotated[
        int, Key("Least turning points", "fewest turning points for a reading", least=3, source=PRACTICE)
    ] = 3
    tilt: Annotated[
        float,
        Key(
            "Least tilt to either side",
            "a smaller tilt to either side is no rock",
            "°",
            above=0,
            source=PRACTICE,
        ),
    ] = 0.75
    interval: Annotated[
        float,
        _s(
            "Streams when faster than",
            "readings at most this far apart: the gauge streams, unless the sheet says otherwise",
        ),
    ] = 0.4
    redo: Annotated[
        float,
        _s(
            "Entered again within",
            "withdrawing and entering again within this time sets the last accepted reading aside",
        ),
    ] = 2.0
    pause: Annotated[
        float, _s("Held still for", "an accepted place may be held still this long without having been left")
    ] = 1.5
    out: Annotated[
        float,
        _mm(
            "Out of the bore beyond", "a reading this far from the bore's size: the gauge is out of the bore"
        ),
    ] = 0.25
    reach: Annotated[
        float,
        _mm(
            "Not in the bore beyond",
            "a gauge of known zero this far from the nominal or the master is not in the bore",
        ),
    ] = 0.4
    aside: Annotated[
        float,
        Key(
            "Held off the middle, either way",
            "a hand may hold the gauge this far off the middle unseen; it is in the uncertainty; "
            "0.2 for a gauge without centring shoes",
            "mm",
            least=0,
            source=PRACTICE,
        ),
    ] = 0.05


class Masters(Struct, frozen=True):
    """How far a mastered gauge is believed, and when it is checked."""

    check_after: Annotated[float, _s("Check after", "a gauge set longer ago is due on its master")] = 1800.0
    check_warm: Annotated[
        float,
        Key(
            "Check after a change of",
            "a gauge whose temperature changed more since then is due too",
            "K",
            above=0,
            source=PRACTICE,
        ),
    ] = 2.0
    drift: Annotated[
        float,
        _mm(
            "Most drift between checks",
            "a run that drifts more between two checks on the master does not stand",
        ),
    ] = 0.001
    farthest: Annotated[
        float,
        _mm(
            "Farthest from the master's size", "farther from the master's size the gauge's own error comes in"
        ),
    ] = 0.025


class Form(Struct, frozen=True):
    """What two-point gauges do not see, taken off the smallest clearance; 0: nothing is known of it."""

    odd_bore: Annotated[
        float,
        Key(
            "Odd lobes of the bore, amplitude",
            "half the radial peak-to-valley of lobes that a two-point gauge does not see",
            "mm",
            least=0,
        ),
    ] = 0.0
    odd_shaft: Annotated[
        float, Key("Odd lobes of the shaft, amplitude", "the same of the shaft", "mm", least=0)
    ] = 0.0
    bow: Annotated[
        float,
        Key("Bow of the axis", "straightness deviation of the axis over the engaged length", "mm", least=0),
    ] = 0.0
    averages: Annotated[
        float,
        Key(
            "A gauge averages over",
            "time over which a gauge under which a part turns averages: lobes that come by faster read too "
            "small",
            "s",
            least=0,
        ),
    ] = 0.0


class ProofSettings(Struct, frozen=True):
    """What grinding needs of the band that is left after guarding."""

    band: Annotated[
        float, _mm("Band that grinding needs", "that must be left after guarding: about one last pass")
    ] = 0.001


class Plan(Struct, frozen=True):
    """What the stock to grind must be enough for, on diameter."""

    taper: Annotated[
        float,
        Key("Taper to expect at first", "before any correction of the table", "mm", least=0, source=PRACTICE),
    ] = 0.005
    times_taper: Annotated[
        float,
        Key("Stock, times that taper", "how often that taper goes into the stock", least=0, source=PRACTICE),
    ] = 2.0
    spring: Annotated[
        float,
        Key("Spring of the machine", "taken off after the infeed stops", "mm", least=0, source=PRACTICE),
    ] = 0.015
    margin: Annotated[
        float, Key("For heat and a last look", "part of the stock", "mm", least=0, source=PRACTICE)
    ] = 0.025


class Coach(Struct, frozen=True):
    """What the advice at the grinder keeps to."""

    undersize: Annotated[
        float,
        Key(
            "Chance of undersize allowed",
            "the coach keeps the chance of ending under the guarded band below this",
            above=0,
            below=0.5,
            source=PRACTICE,
        ),
    ] = 0.01
    finish: Annotated[
        float,
        Key(
            "Deepest finishing pass",
            "on diameter: 0.0002 in, the least for hardened alloy steel",
            "mm",
            above=0,
            source=HANDBOOK,
        ),
    ] = 0.005
    rough: Annotated[
        float, _mm("Deepest pass before", "on diameter: a trade text's most for hard chrome")
    ] = 0.010
    last_stock: Annotated[
        float,
        _mm(
            "Last stock",
            "on diameter: from here on passes are finishing passes, and the wheel is dressed before",
        ),
    ] = 0.025
    contact: Annotated[
        float,
        _mm(
            "Wheel in the part at touch-off",
            "on diameter: how deep the wheel may stand in the part when it is touched off",
        ),
    ] = 0.010
    parallel: Annotated[
        float, _mm("Parallel enough, taper", "on diameter over the stations: this is parallel enough")
    ] = 0.00125
    division: Annotated[
        float, _mm("A division of the dial", "where the sheet does not give it, in the dial's own habit")
    ] = 0.001
    dress: Annotated[
        bool, Key("Remind to dress", "whether the coach reminds you to dress the wheel before the last stock")
    ] = True


class Settings(Struct, frozen=True):
    """Limits that a person may set, on the sheet or with `--set KEY=VALUE`."""

    spark_out: SparkOut = SparkOut()
    warm: Warm = Warm()
    growing: Growing = Growing()
    readings: Readings = Readings()
    passes: Passes = Passes()
    sweep: SweepSettings = SweepSettings()
    placing: PlacingSettings = PlacingSettings()
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
    known = dict(leaves(Settings))
    entry = known.get(key)
    if entry is None:
        near = difflib.get_close_matches(key, known, 1)
        there = f"did you mean {near[0]}?" if near else "there are " + ", ".join(known)
        raise ValueError(f"{key}: no such setting; {there}")
    plain = plainly(entry, value)
    if not entry.holds(plain):
        raise ValueError(f"{key}: came {value!r}, due {entry.due}")
    name, _, leaf = key.partition(".")
    group = msgspec.structs.replace(getattr(settings, name), **{leaf: entry.taken(plain)})
    return msgspec.structs.replace(settings, **{name: group})


def plainly(entry: Entry, value: object) -> Any:
    """What was typed for a key as TOML would have it, or as it came."""
    kinds: dict[str, type] = {"number": float, "whole": int, "flag": bool}
    try:
        return msgspec.convert(value, kinds.get(entry.kind, type(value)), strict=False)
    except msgspec.ValidationError:
        return value
