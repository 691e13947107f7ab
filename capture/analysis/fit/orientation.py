"""Where a clearance stands among standard fits: for orientation only, never to judge it."""

from __future__ import annotations

from typing import Any

from capture.metrology.fit.inch_fits import CLASSES, inch_fit
from capture.metrology.fit.limits import fit as iso_fit

ISO = (("H5", "g4"), ("H5", "h4"), ("H6", "g5"), ("H6", "h5"), ("H7", "g6"), ("H7", "h6"))


def orientation(nominal: float, clearance: tuple[float, float] | None) -> list[dict[str, Any]]:
    """Least and most clearance (mm) of ISO 286 fits and ANSI B4.1 classes at a nominal size.

    Args:
        nominal: mm; a size on a boundary belongs to the range below it.
        clearance: The least and the most that were measured; a row then says whether both lie in it.
    """
    rows = []
    for hole, shaft in ISO:
        try:
            zone = iso_fit(nominal, hole, shaft)
        except ValueError:
            continue
        rows.append(_row(f"{hole}/{shaft}", "ISO 286", zone.least, zone.most, clearance))
    for name in CLASSES:
        try:
            inch = inch_fit(nominal, name)
        except ValueError:
            continue
        rows.append(_row(name, "ANSI B4.1", inch.least, inch.most, clearance))
    return rows


def _row(
    name: str, standard: str, least: float, most: float, clearance: tuple[float, float] | None
) -> dict[str, Any]:
    holds = None if clearance is None else least <= clearance[0] and clearance[1] <= most
    return {"name": name, "standard": standard, "least": least, "most": most, "contains": holds}
