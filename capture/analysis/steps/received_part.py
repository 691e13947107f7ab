"""What came back from the plater, measured against the order: thickness, taper, what can still be reached.

Thickness per side is ``(D_plated - D_stripped) / 2`` at each place that was measured before and after. Ground
to the finished diameter F, a place leaves ``(F - D_stripped) / 2`` of chromium, half the runout less on one
side; it cleans up while ``(D_plated - F) / 2`` is more than half the runout (geometry, the part between one
pair of centres throughout).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import hypot
from typing import Any, Literal, TypeAlias

from msgspec import Struct

from capture.analysis.steps.setup_runout import before_grinding, runouts_of
from capture.analysis.steps.stripped_part import STRIPPED, newest_sizes, where
from capture.metrology.form.taper import line
from capture.metrology.message import Message, message, size, small, thickness
from capture.metrology.plating.deposit import thickness_from
from capture.sheet.job import Job, Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import Cold
from capture.state.session import State
from capture.text.catalogue import sentences

ONE_SIDED_95 = 1.6449
"""Of a normal distribution (ISO 14253-1:2017 guards one limit by as much)."""
PLATED = ("plat",)
"""Words by which a stage is of the shaft after plating."""

Answer: TypeAlias = Literal["yes", "no", "not sure"]


class ReceivedPlace(Struct, frozen=True):
    """A place that was measured plated, and perhaps stripped; mm."""

    z: float | None
    angle: float | None
    stripped: float | None
    plated: float
    thickness: float | None
    """Of chromium per side."""
    u_thickness: float | None
    stock: float
    """From the finished diameter up, per side, where the runout is worst."""
    u_stock: float
    left: float | None
    """Of chromium per side once it is ground to the finished diameter, where the runout is worst."""
    u_left: float | None


def received(
    states: Iterable[State], job: Job, planned: Mapping[str, Any], units: Units
) -> dict[str, Any] | None:
    """What the plan's JSON says of the part that came back; None where no plated shaft was measured.

    Args:
        states: Of every recording of the job; the newest reading of each place counts.
        job: The sheet to go by.
        planned: The plan (`capture.analysis.steps.plating_plan`) that made out the order.
        units: Of the sentences.
    """
    order = planned["order"]
    if order is None:
        return None
    states = list(states)
    taken = [reading for state in states for reading in state.stations.taken if reading.part == "shaft"]
    before, after = newest_sizes(taken, STRIPPED, job), newest_sizes(taken, PLATED, job)
    if not after:
        return None
    measured = [one.full for state in states for one in before_grinding(runouts_of(state, job))]
    runout = max(measured, default=order["runout"])
    places = [
        _place(at, cold, before.get(at), order["finished"], runout)
        for at, cold in sorted(after.items(), key=_along)
    ]
    stock, left = _worst(places, "stock", 0.0), _worst(places, "left", order["least_wanted"])
    said = (*_said(places, stock, left, order, planned), *_taper(places))
    return {
        "finished": order["finished"],
        "runout": runout,
        "runout_from": "measured" if measured else "sheet",
        "places": [{name: getattr(each, name) for name in each.__struct_fields__} for each in places],
        "cleans_up": stock[0],
        "stock_least": stock[1].stock if stock[1] else None,
        "chromium_stays": left[0],
        "left_least": left[1].left if left[1] else None,
        "reachable": _both(stock[0], left[0]),
        "said": sentences(said, units),
    }


def plated_alone(state: State) -> bool:
    """Whether the shaft was measured plated in this session, and stripped in another at best."""
    stages = {one.stage.lower() for one in state.stations.taken if one.part == "shaft" and one.stage}
    plated = any(word in stage for stage in stages for word in PLATED)
    return plated and not any(word in stage for stage in stages for word in STRIPPED)


def _along(item: tuple[PlannedPlace, Cold]) -> tuple[float, float]:
    return (item[0].z or 0.0, item[0].angle or 0.0)


def _place(
    at: PlannedPlace, plated: Cold, stripped: Cold | None, finished: float, runout: float
) -> ReceivedPlace:
    eaten = runout / 2.0
    return ReceivedPlace(
        z=at.z,
        angle=at.angle,
        stripped=None if stripped is None else stripped.value,
        plated=plated.value,
        thickness=None if stripped is None else thickness_from(plated.value, stripped.value),
        u_thickness=None if stripped is None else hypot(plated.u, stripped.u) / 2.0,
        stock=thickness_from(plated.value, finished) - eaten,
        u_stock=plated.u / 2.0,
        left=None if stripped is None else thickness_from(finished, stripped.value) - eaten,
        u_left=None if stripped is None else stripped.u / 2.0,
    )


def _worst(
    places: Sequence[ReceivedPlace], what: Literal["stock", "left"], due: float
) -> tuple[Answer, ReceivedPlace | None]:
    """Whether *what* is surely over *due* everywhere, and where it is least; unmeasured is not sure."""
    known = [(getattr(each, what), getattr(each, f"u_{what}"), each) for each in places]
    measured = [(value, u, each) for value, u, each in known if value is not None]
    if not measured:
        return "not sure", None
    worst = min(measured, key=lambda one: one[0])[2]
    if any(value + ONE_SIDED_95 * u < due for value, u, _ in measured):
        return "no", worst
    sure = all(value - ONE_SIDED_95 * u >= due for value, u, _ in measured)
    return ("yes" if sure and len(measured) == len(known) else "not sure"), worst


def _both(one: Answer, other: Answer) -> Answer:
    if "no" in (one, other):
        return "no"
    return "yes" if one == other == "yes" else "not sure"


def _said(
    places: Sequence[ReceivedPlace],
    stock: tuple[Answer, ReceivedPlace | None],
    left: tuple[Answer, ReceivedPlace | None],
    order: Mapping[str, float],
    planned: Mapping[str, Any],
) -> list[Message]:
    found: list[Message] = []
    if stock[1] is not None:
        name = {"yes": "received.cleans", "no": "received.short", "not sure": "received.cleans-unsure"}
        found.append(
            message(
                name[stock[0]],
                stock=thickness(round(stock[1].stock, 5)),
                finished=size(order["finished"]),
                at=where(stock[1].z, stock[1].angle),
            )
        )
        due = planned["stock"]["due_per_side"]
        if stock[0] == "yes" and stock[1].stock < due:
            found.append(
                message("received.little", stock=thickness(round(stock[1].stock, 5)), due=thickness(due))
            )
    if left[1] is None or left[1].left is None:
        found.append(message("received.unstripped"))
    else:
        name = {"yes": "received.left", "no": "received.thin", "not sure": "received.left-unsure"}
        found.append(
            message(
                name[left[0]],
                left=thickness(round(left[1].left, 5)),
                wanted=thickness(order["least_wanted"]),
                at=where(left[1].z, left[1].angle),
            )
        )
    return [*found, *_deposited(places, order)]


def _deposited(places: Sequence[ReceivedPlace], order: Mapping[str, float]) -> list[Message]:
    """The thickness as deposited beside what was ordered."""
    known = [each for each in places if each.thickness is not None and each.u_thickness is not None]
    if not known:
        return []
    thin = min(known, key=lambda each: each.thickness or 0.0)
    thick = max(known, key=lambda each: each.thickness or 0.0)
    figures = {
        "least": thickness(round(thin.thickness or 0.0, 4)),
        "most": thickness(round(thick.thickness or 0.0, 4)),
        "ordered": thickness(round(order["deposit"], 5)),
    }
    said = [message("received.deposit", **figures)]
    if (thin.thickness or 0.0) + ONE_SIDED_95 * (thin.u_thickness or 0.0) < order["deposit"]:
        said.append(message("received.less", at=where(thin.z, thin.angle)))
    return said


def _taper(places: Sequence[ReceivedPlace]) -> list[Message]:
    """Taper of the plated part, where it shows: it must come out of the same stock."""
    known = [each for each in places if each.z is not None]
    z = [each.z for each in known if each.z is not None]
    if len(set(z)) < 2:
        return []
    found = line(z, [each.plated for each in known], max(2.0 * each.u_stock for each in known))
    if found is None:
        return []
    seen = found.u_slope is not None and abs(found.slope) > 2.0 * found.u_slope
    return [message("received.taper" if seen else "received.parallel", taper=small(abs(found.taper)))]
