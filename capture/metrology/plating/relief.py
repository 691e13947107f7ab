"""Stress relief before plating and bake after it, by the strength of the steel (ASTM B849 and B850).

The bake times are those of ASTM B850-98 (2009) as a plater's public table reprints them: they begin at 1000
MPa with 8 h at 190 to 220 degrees Celsius and grow by 2 h each 100 MPa. Hardnesses beside strengths are that
table's and approximate. Hours of the relief are from memory. Each is a floor: the standard and the plater
set the treatment, and cast iron, surface-hardened and tempered-below-it parts are not what is said here.
"""

from __future__ import annotations

from math import isfinite

from msgspec import Struct

from capture.metrology.cautions import Basis

BEGINS = 1000.0
"""MPa from which steels are treated (ASTM B849-02 (2019), scope; ASTM B850)."""
BAKE_SOURCE = "ASTM B850-98 (2009), as a plater's table reprints it"
RELIEF_SOURCE = "ASTM B849, classes SR"
HRC_OF = ((31.0, 1000.0), (33.0, 1100.0), (36.0, 1200.0), (39.0, 1300.0), (43.0, 1400.0),
          (45.0, 1500.0), (47.0, 1600.0), (49.0, 1700.0), (51.0, 1800.0))  # fmt: skip
"""Rockwell C beside MPa, of the same table; approximate."""
BAKE_HOURS = ((1000.0, 8.0), (1100.0, 10.0), (1200.0, 12.0), (1300.0, 14.0), (1400.0, 16.0),
              (1500.0, 18.0), (1600.0, 20.0), (1700.0, 22.0))  # fmt: skip
"""Over this MPa at least so many hours, to the next row; the last ends at 1800 MPa."""
STRONGEST = 1800.0
BEYOND = 24.0
"""Hours over `STRONGEST` (from memory)."""
RELIEF_HOURS = ((1000.0, 3.0), (1400.0, 18.0), (1800.0, 24.0))
"""Over this MPa at least so many hours of relief (from memory)."""
BAKE_WITHIN = 4.0
"""Hours from the bath to the oven (an engine-overhaul standard practice, 70-00-01)."""


class Treatment(Struct, frozen=True):
    """One heat treatment; a floor, never the whole of what the standard asks."""

    hours: float
    """At least."""
    coolest: float
    """degC."""
    hottest: float
    source: str
    basis: Basis


class HeatTreatment(Struct, frozen=True):
    """What a steel needs before and after plating; None where its strength asks for none."""

    strength: float
    """MPa that it rests on."""
    from_hardness: bool
    """The strength was taken from the hardness, which is approximate."""
    relief: Treatment | None
    bake: Treatment | None
    bake_within: float = BAKE_WITHIN


def strength_of(hardness: float) -> float:
    """Tensile strength, MPa, of a steel of that Rockwell C hardness, straight between the table's rows.

    Outside the table its end rows go on; approximate, and to the safe side of nothing.
    """
    if not isfinite(hardness):
        raise ValueError(f"a hardness must be finite, got {hardness}")
    rows = HRC_OF
    lower = max((i for i in range(len(rows) - 1) if rows[i][0] <= hardness), default=0)
    (h0, s0), (h1, s1) = rows[lower], rows[lower + 1]
    return s0 + (s1 - s0) * (hardness - h0) / (h1 - h0)


def heat_treatment(strength: float | None, hardness: float | None) -> HeatTreatment | None:
    """Relief and bake of a steel; None where neither its strength nor its hardness is known.

    Args:
        strength: Tensile strength, MPa; it goes before the hardness, unless the hardness asks for more.
        hardness: Rockwell C.
    """
    known = [] if strength is None else [(strength, False)]
    known += [] if hardness is None else [(strength_of(hardness), True)]
    if not known:
        return None
    mpa, by_hardness = max(known)
    if mpa < BEGINS:
        return HeatTreatment(mpa, by_hardness, None, None)
    hours = BEYOND if mpa > STRONGEST else _hours(BAKE_HOURS, mpa)
    basis: Basis = "from memory" if mpa > STRONGEST else "published"
    return HeatTreatment(
        mpa,
        by_hardness,
        Treatment(_hours(RELIEF_HOURS, mpa), 190.0, 230.0, RELIEF_SOURCE, "from memory"),
        Treatment(hours, 190.0, 220.0, BAKE_SOURCE, basis),
    )


def _hours(rows: tuple[tuple[float, float], ...], mpa: float) -> float:
    """The row that *mpa* lies over; a strength on a row's edge belongs to the weaker one."""
    return max((hours for over, hours in rows if over < mpa), default=rows[0][1])
