"""The least clearance at other temperatures: in the shop now, at work, and where heat would close it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from capture.analysis.fit.clearances import Side
from capture.metrology.fit.clearance import PlaceClearance, StationSize, ordered, weights
from capture.metrology.heat.temperature import REFERENCE, Temperature, clearance, temperature_that_closes
from capture.sheet.job import Job
from capture.state.cold_size import expansion_of
from capture.state.stations import Warmth


def temperatures(
    job: Job,
    bore: Side,
    shaft: Side,
    place: PlaceClearance,
    least: float,
    shop: Mapping[str, Warmth],
    working: Sequence[Mapping[str, float]],
) -> list[dict[str, Any]]:
    """Rows of ``what``, ``bore`` and ``shaft`` (°C), ``least`` and ``u`` (mm) at the tightest place.

    Args:
        job: For the expansions.
        bore: One part.
        shaft: The other.
        place: The tightest place at 20 °C.
        least: Its clearance with allowances taken off.
        shop: The newest temperatures, by place of heat.
        working: Temperatures that are asked for, °C by part.
    """
    cold = Temperature(REFERENCE, 0.0)
    cases = [("at 20 °C", cold, cold)]
    if "bore" in shop and "shaft" in shop:
        cases.append(("in the shop", _known(shop["bore"]), _known(shop["shaft"])))
    elif "room" in shop:
        cases.append(("in the shop, both as warm as the room", _known(shop["room"]), _known(shop["room"])))
    cases += [("asked for", Temperature(one["bore"], 0.0), Temperature(one["shaft"], 0.0)) for one in working]
    sizes = size_at(bore.tight, place.z_bore), size_at(shaft.tight, place.z_shaft)
    return [_row(job, what, sizes, (t_bore, t_shaft), place, least) for what, t_bore, t_shaft in cases]


def size_at(sizes: Sequence[StationSize], z: float) -> float:
    """The diameter at z, the part taken as straight between stations, mm."""
    stations = ordered(sizes, "part")
    return sum(weight * stations[i].value for i, weight in weights(stations, z))


def closes_at(job: Job, place: PlaceClearance, shaft: Side, least: float) -> float:
    """Kelvins by which the shaft alone must be warmer than the bore for the least clearance to be gone."""
    return temperature_that_closes(least, size_at(shaft.tight, place.z_shaft), expansion_of(job, "shaft"))


def _row(
    job: Job,
    what: str,
    sizes: tuple[float, float],
    heat: tuple[Temperature, Temperature],
    place: PlaceClearance,
    least: float,
) -> dict[str, Any]:
    found = clearance(
        bore_20=sizes[0],
        bore=expansion_of(job, "bore"),
        t_bore=heat[0],
        shaft_20=sizes[1],
        shaft=expansion_of(job, "shaft"),
        t_shaft=heat[1],
        u_20=place.u,
    )
    allowed = place.value - least
    return {"what": what, "bore": heat[0].t, "shaft": heat[1].t, "least": found.value - allowed, "u": found.u}


def _known(warmth: Warmth) -> Temperature:
    return Temperature(warmth.value, warmth.u)
