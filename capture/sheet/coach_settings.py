"""Settings of the plating plan and of the coach; lengths are millimetres on diameter."""

from __future__ import annotations

from typing import Annotated, Final

from msgspec import Struct

from capture.sheet.schema import PRACTICE, Key, mm_key

HANDBOOK: Final = "Machinery's Handbook, 31st edition, p. 1318, Table 3"


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
        float, mm_key("Deepest pass before", "on diameter: a trade text's most for hard chrome")
    ] = 0.010
    last_stock: Annotated[
        float,
        mm_key(
            "Last stock",
            "on diameter: from here on passes are finishing passes, and the wheel is dressed before",
        ),
    ] = 0.025
    contact: Annotated[
        float,
        mm_key(
            "Wheel in the part at touch-off",
            "on diameter: how deep the wheel may stand in the part when it is touched off",
        ),
    ] = 0.010
    parallel: Annotated[
        float, mm_key("Parallel enough, taper", "on diameter over the stations: this is parallel enough")
    ] = 0.00125
    division: Annotated[
        float,
        mm_key("A division of the dial", "where the sheet does not give it, in the dial's own habit"),
    ] = 0.001
    dress: Annotated[
        bool, Key("Remind to dress", "whether the coach reminds you to dress the wheel before the last stock")
    ] = True
