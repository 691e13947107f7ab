"""The bore as it was measured: map, profile of each stage, shape with its uncertainty, and lapping."""

from __future__ import annotations

from typing import Any

from msgspec import Struct

from capture.analysis.fit.measured_part import CannotSay, coarsest, measured
from capture.analysis.steps.lapping_progress import lapping, next_lap, stages
from capture.metrology.bore.lap_choice import LapChoice
from capture.metrology.bore.lapping import Guidance
from capture.metrology.form.profile import Diameter, Profile
from capture.metrology.message import Sentence
from capture.sheet.job import Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.session import State
from capture.state.stations import StationReading
from capture.text.catalogue import sentence
from dashboard.text.screen import word
from dashboard.views.lengths import fine, fine_unit, size, small, small_parts, within
from dashboard.views.lengths import place as place_words
from dashboard.views.memo import remember_by
from dashboard.views.size import K95

STAGES = 4
"""Stages laid over each other, the newest ones."""


class Bore(Struct, frozen=True):
    """What the readings say of the bore, stage by stage."""

    reference: float
    """What deviations are measured from: the nominal size, else the first reading to a hundredth, mm."""
    profiles: tuple[tuple[str, Profile], ...] = ()
    """Of each stage its name and profile, oldest first."""
    places: tuple[Diameter, ...] = ()
    """What counts in the newest stage, at 20 °C."""
    guidance: Guidance | None = None
    lap: LapChoice | None = None
    """The lap for what is left."""
    why: Sentence = ""
    """Why there is no profile of the newest stage."""
    step: float | None = None
    """Under which nothing of it is shown, mm."""

    @property
    def newest(self) -> Profile | None:
        """The profile of the stage in hand."""
        return self.profiles[-1][1] if self.profiles and not self.why else None


def _bore_of(state: State) -> Bore:
    fit = state.job.fit
    first = next((r.value for r in state.stations.taken if r.part == "bore"), 0.0)
    reference = fit.nominal if fit is not None else round(first, 2)
    profiles: list[tuple[str, Profile]] = []
    places: tuple[Diameter, ...] = ()
    why: Sentence = ""
    step = None
    for stage in stages(state)[-STAGES:]:
        try:
            found = measured(state, "bore", state.job, source="", stage=stage)
        except CannotSay as error:
            why = error.said
            continue
        if found is not None:
            why = ""
            step = coarsest(found)
            profiles.append((stage or word("bore.no-stage"), found.profile))
            places = tuple(
                Diameter(row.reading.place.z or 0.0, row.reading.place.angle, row.cold.value, row.u_own)
                for row in found.rows
            )
    return Bore(reference, tuple(profiles), places, lapping(state), next_lap(state), why, step)


bore_of = remember_by(lambda state: (state.stations, state.history, state.job), _bore_of)
"""The bore of a state; it depends on readings taken and on commands; a stream of readings changes neither."""


def grid(state: State, units: Units) -> dict[str, Any]:
    """The developed map: a row for each station, a column for each angle."""
    bore, route = bore_of(state), state.stations.plan_of("bore")
    cold = sizes_of(state)
    planned = [(p.z, p.angle or 0.0) for p in route.plan if p.z is not None]
    stations = sorted({z for z, _ in [*planned, *cold]})
    angles = sorted({angle for _, angle in [*planned, *cold]})
    smallest, largest = min(cold.values(), default=0.0), max(cold.values(), default=0.0)
    span = (largest - smallest) or 1.0

    def cell(z: float, angle: float) -> list[str | None]:
        here = "here" if route.here == PlannedPlace(z, angle) else None
        value = cold.get((z, angle))
        if value is None:
            return ["" if (z, angle) not in planned else "·", here or "open"]
        state_of = here or ("smallest" if value == smallest else "done")
        return [
            signed(value - bore.reference, units, bore.step),
            state_of,
            f"{(value - smallest) / span:.3f}",
        ]

    rows = [[[place_words(z, units)], *(cell(z, angle) for angle in angles)] for z in stations]
    head = [[word("bore.map-z")], *([word("bore.map-angle", angle=f"{angle:g}")] for angle in angles)]
    reference = size(bore.reference, units)
    return {
        "bore-map-title": word("bore.map", unit=fine_unit(units), reference=reference),
        "bore-map-head[]": [head] if rows else [],
        "bore-map[]": rows,
        "bore-map-none": "" if cold else word("bore.map-none"),
    }


def sizes_of(state: State) -> dict[tuple[float, float], float]:
    """The diameter at 20 °C of each station and angle measured in the stage in hand, mm."""
    bore = bore_of(state)
    if not bore.profiles or (state.stations.stage or word("bore.no-stage")) != bore.profiles[-1][0]:
        return {}
    return {(each.z, each.angle or 0.0): each.value for each in bore.places}


def newest_reading(state: State) -> StationReading | None:
    """The newest reading of the bore that stands."""
    return next((r for r in reversed(state.stations.taken) if r.part == "bore"), None)


def signed(value: float, units: Units, step: float | None = None) -> str:
    """A deviation with its sign and without its unit, no finer than *step*, mm."""
    text = small_parts(abs(value), units, step)[0]
    return text if float(text) == 0.0 else ("+" if value > 0 else "−") + text


def profile(state: State, units: Units) -> dict[str, Any]:
    """Numbers of the profile: older stages, the newest with its uncertainty, and its smallest place."""
    bore = bore_of(state)
    if not bore.profiles:
        return {"bore-profile#figure": None}

    def at(value: float) -> float:
        return round(fine(value - bore.reference, units) or 0.0, 2)

    lines: list[dict[str, Any]] = [
        {
            "name": name,
            "x": [along(each.z, units) for each in found.stations],
            "y": [at(each.mean) for each in found.stations],
        }
        for name, found in bore.profiles
    ]
    name, newest = bore.profiles[-1]
    error = [round(fine(K95 * each.u, units) or 0.0, 2) for each in newest.stations]
    blank: dict[str, Any] = {"name": word("bore.profile-stage"), "x": [], "y": []}
    older = [blank] * (STAGES - len(lines)) + lines[:-1]
    smallest: dict[str, Any] = {"x": [along(newest.smallest.z, units)], "y": [at(newest.smallest.value)]}
    y = [value for line in [*lines, smallest] for value in line["y"]]
    y += [value + sign * u for value, u in zip(lines[-1]["y"], error, strict=True) for sign in (1, -1)]
    x = [value for line in lines for value in line["x"]]
    wide, high = max(0.05 * (max(x) - min(x)), 1e-3), max(0.08 * (max(y) - min(y)), 0.5)
    return {
        "bore-profile#figure": {
            "x": [round(min(x) - wide, 3), round(max(x) + wide, 3)],
            "y": [round(min(y) - high, 2), round(max(y) + high, 2)],
            "title": word("trend.axis", unit=fine_unit(units), reference=size(bore.reference, units)),
            "over": word("bore.profile-z", unit=word(f"unit.{units}")),
            "traces": [*older, {**lines[-1], "name": name, "error": error}, smallest],
        }
    }


def along(z: float, units: Units) -> float:
    """A place along the bore in the units of an axis."""
    return round(z / 25.4, 4) if units == "in" else z


def shape(state: State, units: Units) -> dict[str, Any]:
    """Rows of taper, ovality, barrel and bell mouth, each with its uncertainty and what it means."""
    bore = bore_of(state)
    found = bore.newest
    rows = (
        []
        if found is None
        else [part for one in (_taper, _oval, _axial) for part in one(found, units, bore.step)]
    )
    none = word("bore.shape-failed", why=sentence(bore.why, units)) if bore.why else word("bore.shape-none")
    return {"bore-shape[]": rows, "bore-shape-none": "" if rows else none}


def _row(
    name: str, value: float | None, u: float | None, said: str, units: Units, step: float | None = None
) -> list[list[str]]:
    if value is None:
        return [[word(f"bore.shape-{name}")], [word("bore.shape-unknown")], [""], [said]]
    spread = "" if u is None else word("bore.shape-u", u=within(K95 * u, units, step))
    return [[word(f"bore.shape-{name}")], [small(value, units, step)], [spread], [said]]


def _taper(found: Profile, units: Units, step: float | None) -> list[list[list[str]]]:
    taper = found.taper
    if taper is None:
        return [_row("taper", None, None, word("bore.shape-none"), units)]
    end = word("bore.end-far end" if taper.slope > 0 else "bore.end-datum end")
    said = word("bore.shape-clear", end=end) if taper.clear else word("bore.shape-unclear")
    return [_row("taper", abs(taper.taper), taper.u_taper, said, units, step)]


def _oval(found: Profile, units: Units, step: float | None) -> list[list[list[str]]]:
    known = [(each.round.ovality, each) for each in found.stations if each.round.ovality is not None]
    if not known:
        most = max(found.stations, key=lambda each: each.round.at_least)
        least, z = small(most.round.at_least, units, step), place_words(most.z, units)
        return [_row("ovality", None, None, word("bore.shape-at-least", least=least, z=z), units)]
    value, most = max(known, key=lambda pair: pair[0])
    said = word("bore.shape-at", z=place_words(most.z, units))
    if most.round.axis is None:
        said = word("bore.shape-unclear")
    return [_row("ovality", value, most.round.u_ovality, said, units, step)]


def _axial(found: Profile, units: Units, step: float | None) -> list[list[list[str]]]:
    axial = found.axial
    if axial is None:
        three = word("bore.shape-three")
        return [_row("straight", None, None, three, units), _row("mouth", None, None, three, units)]
    said = word("bore.shape-unclear") if axial.shape == "straight" else ""
    rows = [_row(axial.shape, abs(axial.crown), axial.u_crown, said, units, step)]
    if axial.bell_mouths is None:
        return [*rows, _row("mouth", None, None, word("bore.shape-stations"), units)]
    ends = ", ".join(word(f"bore.end-{end}") for end in axial.bell_mouths)
    mouth = word("bore.shape-mouths", ends=ends) if ends else word("bore.shape-no-mouth")
    return [*rows, [[word("bore.shape-mouth")], [mouth], [""], [""]]]


def words_of(place: PlannedPlace, units: Units) -> str:
    """A place of the bore in short."""
    if place.z is None:
        return word("bore.anywhere")
    return word("bore.place", z=place_words(place.z, units), angle=f"{place.angle or 0:g}")
