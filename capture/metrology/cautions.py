"""Cautions: what can hurt, with the rule that says so; local codes and licensed practice go first.

Numbers of the United States rules stand here as one example of such limits. They are no
substitute for the rules of the place, the safety data sheets, and people who are
qualified for the work.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

from msgspec import Struct

from capture.metrology.message import Sentence

Basis: TypeAlias = Literal["published", "from memory", "common practice, no source"]

CR6_EXPOSURE_LIMIT = 5.0
"""Permissible exposure limit of hexavalent chromium, µg/m3, 8 h mean (29 CFR 1910.1026)."""
CR6_ACTION_LEVEL = 2.5
"""Its action level, µg/m3, 8 h mean (29 CFR 1910.1026)."""
CYLINDRICAL_GUARD_EXPOSURE = 180.0
"""Largest angle of a cylindrical grinder's wheel left open by its guard, degrees (29 CFR 1910.215)."""
GUARD_EXPOSURE_START = 65.0
"""Where the opening may begin at most, degrees above the spindle's horizontal (from memory)."""


class Caution(Struct, frozen=True):
    """One thing to mind, where it is from, and how sure that is."""

    key: str
    text: Sentence
    source: str
    basis: Basis


_LOCAL = "Local codes and the plater's licence go first."

CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "hexavalent chromium",
        f"Plating and stripping baths hold hexavalent chromium: limit {CR6_EXPOSURE_LIMIT:g} µg/m3, action "
        f"level {CR6_ACTION_LEVEL:g} µg/m3 in air over 8 h. Plating and stripping are for licensed platers. "
        f"{_LOCAL}",
        "29 CFR 1910.1026",
        "published",
    ),
    Caution(
        "chromium swarf",
        "Ground chromium is metal, but its dust and mist are not to be breathed: coolant, extraction, and "
        "waste handled as local codes say.",
        "common practice",
        "common practice, no source",
    ),
    Caution(
        "wheel guard",
        f"A cylindrical grinder's guard leaves at most {CYLINDRICAL_GUARD_EXPOSURE:g}° of the wheel open.",
        "29 CFR 1910.215(b)",
        "published",
    ),
    Caution(
        "guard opening",
        f"The opening begins at most {GUARD_EXPOSURE_START:g}° above the horizontal of the spindle.",
        "29 CFR 1910.215(b)",
        "from memory",
    ),
    Caution(
        "ring test",
        "Look over and ring-test a wheel before it is mounted; a cracked wheel kills.",
        "29 CFR 1910.215(d)",
        "from memory",
    ),
    Caution(
        "wheel speed",
        "The spindle must not turn faster than the speed marked on the wheel.",
        "29 CFR 1910.215(d)",
        "from memory",
    ),
    Caution(
        "measuring",
        "Before a micrometer comes near: wheel drawn clear, work stopped, traverse off. Never reach over a "
        "running wheel to measure. Local codes and the machine's own instructions go first.",
        "common practice",
        "common practice, no source",
    ),
    Caution(
        "rotating work",
        "No gloves, loose sleeves, rings, rags or long hair near work or wheel that turns; wipe the part at "
        "rest. Local codes go first.",
        "common practice",
        "common practice, no source",
    ),
    Caution(
        "wheel start",
        "Guard closed, then stand aside of the wheel's plane while it comes to speed, and let it run free "
        "for a minute before it touches anything, longer after mounting. Local codes go first.",
        "ANSI B7.1",
        "from memory",
    ),
    Caution(
        "between centres",
        "Before the wheel comes in: centres greased and seated, tailstock clamped, dog tight, its tail "
        "covered and free of the guard, steady rest clear of the wheel. Mounting and lifting are for those "
        "licensed and trained for it where local codes ask for that.",
        "common practice",
        "common practice, no source",
    ),
    Caution(
        "cracks after grinding",
        "Have ground chromium looked over for cracks and burn (penetrant) by somebody qualified before the "
        "part runs; local codes and the part's own standard say who that is.",
        "STERC hard-chrome question archive; an engine-overhaul standard practice, 70-00-01",
        "published",
    ),
    Caution(
        "mist",
        "Keep coolant mist extracted; limits for metal-working fluid differ from place to place, and local "
        "codes say which hold.",
        "common practice",
        "common practice, no source",
    ),
    Caution(
        "baking",
        "An oven at 200 °C and the part out of it burn; bake by the plater's procedure.",
        "common practice",
        "common practice, no source",
    ),
    Caution(
        "assembly",
        "Try a fit clean, oiled and by hand; never force it: a seized or chilled part can break or fly.",
        "common practice",
        "common practice, no source",
    ),
)
"""Everything that this program says about safety."""


def caution(key: str) -> Caution:
    """The caution of that key.

    Raises:
        ValueError: there is none of that key.
    """
    for each in CAUTIONS:
        if each.key == key:
            return each
    raise ValueError(f"no caution {key!r}; there are {', '.join(each.key for each in CAUTIONS)}")
