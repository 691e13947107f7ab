"""Settings: the limits that a person may set, each with its default and where that comes from.

Lengths are millimetres whatever the sheet was written in.
"""

from __future__ import annotations

import difflib
from typing import Annotated, Any

import msgspec
from msgspec import Struct

from capture.sheet.coach_settings import Coach, Plan
from capture.sheet.schema import PRACTICE, Entry, Key, leaves, mm_key, s_key
from capture.sheet.stream_settings import PlacingSettings, SweepSettings


class SparkOut(Struct, frozen=True):
    """When the wheel has sparked out."""

    limit: Annotated[
        float,
        mm_key(
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
        mm_key(
            "Growth above the size at 20 °C", "on diameter: above this the part is too warm to be called done"
        ),
    ] = 0.0005
    max_age: Annotated[
        float, s_key("A temperature holds for", "an older temperature no longer counts for the part")
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
        s_key(
            "Sent once more within",
            "the same bytes from the same gauge within this time are one reading sent again",
        ),
    ] = 0.2
    apart: Annotated[
        float,
        mm_key(
            "Farthest from the other readings",
            "on diameter: a reading farther from all others of the part is set aside and asked about",
        ),
    ] = 0.1


class Passes(Struct, frozen=True):
    """How passes are found that nobody entered."""

    find: Annotated[
        bool,
        Key(
            "Find passes that nobody entered",
            "a place measured again, with no pass entered, is a new pass with infeed not known",
        ),
    ] = True
    largest: Annotated[
        float,
        mm_key(
            "Largest infeed that is found",
            "on diameter: more by the infeed gauge is no infeed of a pass, and is asked about",
        ),
    ] = 0.1


class Masters(Struct, frozen=True):
    """How far a mastered gauge is believed, and when it is checked."""

    check_after: Annotated[float, s_key("Check after", "a gauge set longer ago is due on its master")] = (
        1800.0
    )
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
        mm_key(
            "Most drift between checks",
            "a run that drifts more between two checks on the master does not stand",
        ),
    ] = 0.001
    farthest: Annotated[
        float,
        mm_key(
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
        float, mm_key("Band that grinding needs", "that must be left after guarding: about one last pass")
    ] = 0.001


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
