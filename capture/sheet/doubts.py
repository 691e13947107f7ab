"""Questions about a sheet that is right and perhaps not meant: a length in the wrong unit, mostly.

A question is no fault: whoever answers that it is meant goes on. Every bound here is common practice
without a source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from msgspec import Struct

from capture.metrology.units import MM_PER_INCH
from capture.sheet.faults import Path
from capture.sheet.job import Job, Units, Workpiece
from capture.sheet.schema import leaves
from capture.sheet.settings import Settings

WIDEST: Final = 0.005
"""Clearance as a share of the nominal size above which it is asked about: 0.27 mm of 55 mm."""
SIZES: Final = (3.0, 1000.0)
"""Nominal sizes that are not asked about, mm."""
THICKEST: Final = 1.0
"""Chromium per side above which it is asked about, mm."""
COARSEST: Final = 0.1
"""Step of a gauge of this trade above which it is asked about, mm."""
LONGEST: Final = 5000.0
"""Place along a part above which it is asked about, mm."""
SLIP: Final = 0.05
"""Share of a spindle's speed by which its drive may give another before that is asked about."""
OFF: Final = 50.0
"""Times its default at which a length of the settings is asked about."""


class Doubt(Struct, frozen=True):
    """A question about one key."""

    path: Path
    question: str

    @property
    def where(self) -> str:
        """The key with dots."""
        return ".".join(map(str, self.path))


def doubts_of(job: Job) -> tuple[Doubt, ...]:
    """Every question about *job*."""
    return (*_fit(job), *_parts(job), *_gauges(job), *_drives(job), *_settings(job.settings))


def _fit(job: Job) -> Iterator[Doubt]:
    fit = job.fit
    if fit is None:
        return
    if fit.nominal < SIZES[0] and job.units == "mm" and fit.nominal * MM_PER_INCH > SIZES[0]:
        yield Doubt(("fit", "nominal"), f"a fit of {_length(fit.nominal, 'mm')}: is the sheet in inches?")
    elif fit.nominal > SIZES[1]:
        other = " is the sheet in mm?" if job.units == "in" else " is that meant?"
        yield Doubt(("fit", "nominal"), f"a fit of {_length(fit.nominal, job.units)}:{other}")
    for name in ("aim", "least", "most"):
        value = abs(getattr(fit.clearance, name))
        if value > WIDEST * fit.nominal:
            yield Doubt(
                ("fit", "clearance", name),
                f"{_length(value, job.units)} of clearance in a fit of {_length(fit.nominal, job.units)}: "
                f"{_smaller(value, job.units)}",
            )
    if fit.engagement is not None and fit.engagement.length > 20.0 * fit.nominal:
        length = _length(fit.engagement.length, job.units)
        yield Doubt(
            ("fit", "engagement", "length"),
            f"{length} engaged in a fit of {_length(fit.nominal, job.units)}: is that meant?",
        )


def _parts(job: Job) -> Iterator[Doubt]:
    parts: tuple[tuple[str, Workpiece | None], ...] = (("bore", job.bore), ("shaft", job.shaft))
    for name, part in parts:
        if part is None:
            continue
        if part.stations and max(map(abs, part.stations)) > LONGEST:
            far = _length(max(part.stations, key=abs), job.units)
            yield Doubt((name, "stations"), f"a station at {far}: is that meant?")
        if part.plating is not None:
            for key in ("least", "most", "stock", "runout"):
                value = getattr(part.plating, key)
                if value > THICKEST:
                    question = f"{_length(value, job.units)}: {_smaller(value, job.units)}"
                    yield Doubt((name, "plating", key), question)


def _gauges(job: Job) -> Iterator[Doubt]:
    rides: dict[float, str] = {}
    for place, gauge in enumerate(job.gauges):
        if gauge.rides is not None:
            if gauge.rides in rides:
                where = _length(gauge.rides, job.units)
                question = f"{rides[gauge.rides]} rides at {where} as well: are both there?"
                yield Doubt(("gauge", place, "rides"), question)
            rides.setdefault(gauge.rides, gauge.name)
        if gauge.measures in {"temperature", "power"}:
            continue
        for key in ("resolution", "limits", "repeatability", "expanded", "master_expanded"):
            value = getattr(gauge, key)
            if value is not None and value > COARSEST:
                question = f"{_length(value, job.units)}: {_smaller(value, job.units)}"
                yield Doubt(("gauge", place, key), question)
    division = job.grinder.division if job.grinder is not None else None
    if division is not None and division > COARSEST:
        question = f"{_length(division, job.units)} a division: {_smaller(division, job.units)}"
        yield Doubt(("grinder", "division"), question)


def _drives(job: Job) -> Iterator[Doubt]:
    """A spindle whose speed is not what motor and pulleys make of it: the pulleys may be changed over."""
    for name, data in (("wheel", job.wheel), ("work", job.work)):
        by_drive = None if data is None or data.drive is None else data.drive.spindle_rpm
        if data is None or by_drive is None or data.rpm is None:
            continue
        if abs(by_drive - data.rpm) > SLIP * data.rpm:
            question = f"{data.rpm:g} 1/min, and {by_drive:.0f} by motor and pulleys: which is right?"
            yield Doubt((name, "rpm"), question)


def _settings(settings: Settings) -> Iterator[Doubt]:
    for name, entry in leaves(Settings):
        group, _, leaf = name.partition(".")
        value = getattr(getattr(settings, group), leaf)
        if entry.key.unit == "mm" and entry.default and value >= OFF * entry.default:
            question = (
                f"{_length(value, 'mm')}, where {_length(entry.default, 'mm')} is usual: "
                f"{_smaller(value, 'mm')}"
            )
            yield Doubt(("settings", group, leaf), question)


def _smaller(value: float, units: Units) -> str:
    """Asks whether a thousandth of a length (mm) was meant, as the trade of those *units* says it."""
    if units == "in":
        return f"thousandths? {value / MM_PER_INCH:g} thou is {value / MM_PER_INCH / 1000:g} in"
    return f"micrometres? {value:g} µm is {value / 1000:g} mm"


def _length(value: float, units: Units) -> str:
    return f"{value / MM_PER_INCH:.6g} in" if units == "in" else f"{value:.6g} mm"
