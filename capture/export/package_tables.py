"""The tables of a data package: what was measured, taken, found and decided, with units and uncertainties."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final

from msgspec import Struct

from capture.analysis.calibrations import calibration_rows
from capture.analysis.grind.headline import headline_of
from capture.events import Event
from capture.export.tables import COLUMNS, Column, rows
from capture.sheet.job import Job
from capture.state.session import State

RECORDING: Final = Column("recording", "string", "", "Name of the recording's file.")
UNITS: Final = {"mm": "mm", "K": "K", "mm/mm": "1", "1/K": "K-1", "degC": "Cel", "": "1", "1": "1"}
"""UCUM codes of the units in which an uncertainty budget is."""
OF_PART: Final = Column("part", "string", "", "bore or shaft.")

VERDICTS: Final = (
    RECORDING,
    Column("verdict", "string", "", "What every screen says first."),
    Column("whole", "bool", "", "Every place of the plan was measured after the newest pass."),
    Column("size_mm", "float64", "mm", "Diameter at 20 °C, the mean of the places of that pass."),
    Column("u_size_mm", "float64", "mm", "Its standard uncertainty."),
    Column("aim_mm", "float64", "mm", "Diameter that was aimed at."),
    Column("to_go_mm", "float64", "mm", "Size less aim."),
    Column("predicted_mm", "float64", "mm", "Cold size when nothing more comes off."),
    Column("u_predicted_mm", "float64", "mm", "Its standard uncertainty."),
)
SIZES: Final = (
    RECORDING,
    OF_PART,
    Column("stage", "string", "", "Stage that the readings are of; empty: none given."),
    Column("z_mm", "float64", "mm", "Place along the part from its datum end."),
    Column("mean_mm", "float64", "mm", "Mean diameter there at 20 °C."),
    Column("u_mm", "float64", "mm", "Its standard uncertainty, with what all readings share."),
    Column("angles", "int64", "1", "Directions in which it was measured."),
    Column("ovality_mm", "float64", "mm", "Largest less smallest diameter; empty: too few directions."),
    Column("u_ovality_mm", "float64", "mm", "Its standard uncertainty."),
)
CLEARANCE: Final = (
    Column("bore_z_mm", "float64", "mm", "Place in the bore."),
    Column("bore_mm", "float64", "mm", "Diameter of the bore there at 20 °C."),
    Column("least_mm", "float64", "mm", "Least clearance there over the travel, diametral."),
    Column("u_mm", "float64", "mm", "Its standard uncertainty."),
    Column("shaft_z_at_least_mm", "float64", "mm", "Place of the shaft at the least."),
    Column("most_mm", "float64", "mm", "Most clearance there over the travel, diametral."),
    Column("shaft_z_at_most_mm", "float64", "mm", "Place of the shaft at the most."),
)
DECISION: Final = (
    Column("answer", "string", "", "conforms, not proven or does not conform."),
    Column("rule", "string", "", "Decision rule, and the standard that it is of."),
    Column("least_limit_mm", "float64", "mm", "Least clearance that is allowed, diametral."),
    Column("most_limit_mm", "float64", "mm", "Most clearance that is allowed, diametral."),
    Column("least_mm", "float64", "mm", "Least clearance that was found."),
    Column("u_least_mm", "float64", "mm", "Its combined standard uncertainty (JCGM 100:2008)."),
    Column("expanded_mm", "float64", "mm", "Expanded uncertainty of the least clearance."),
    Column("coverage_factor", "float64", "1", "Expanded over standard uncertainty."),
    Column("coverage", "float64", "1", "Probability that the expanded uncertainty stands for."),
    Column("most_mm", "float64", "mm", "Most clearance that was found."),
    Column("u_most_mm", "float64", "mm", "Its combined standard uncertainty."),
    Column("probability", "float64", "1", "That the clearance is within its limits; empty: not known."),
)
BUDGET: Final = (
    Column("name", "string", "", "What contributes to the uncertainty of the least clearance."),
    Column("unit_ucum", "string", "", "UCUM code of its value."),
    Column("value", "float64", "", "Its value, in that unit."),
    Column("distribution", "string", "", "Of what is known of it."),
    Column("u", "float64", "", "Its standard uncertainty, in that unit."),
    Column("contribution_mm", "float64", "mm", "Its part in the standard uncertainty of the clearance."),
    Column("source", "string", "", "Where the figure is from."),
)
CALIBRATIONS: Final = (
    Column("gauge", "string", "", "Name of the gauge on the job sheet."),
    Column("of", "string", "", "gauge, or master: what it is set on."),
    Column("unit_ucum", "string", "", "UCUM code of the figures of this row."),
    Column("value", "float64", "", "Certified size of a master at 20 °C."),
    Column("limits", "float64", "", "Largest permissible error of a gauge."),
    Column("expanded", "float64", "", "Expanded uncertainty of the calibration."),
    Column("coverage_factor", "float64", "1", "Expanded over standard uncertainty."),
    Column("u", "float64", "", "Standard uncertainty of the calibration."),
    Column("certificate", "string", "", "Number of its certificate."),
    Column("calibrated", "date", "", "Day of the calibration."),
    Column("due", "date", "", "Day after which it is overdue."),
    Column("overdue", "bool", "", "Whether it was on the day on which this was written."),
)


class PackagedRecording(Struct, frozen=True):
    """A recording, and what is cited of it."""

    name: str
    sha256: str
    events: Sequence[Event]
    state: State


class PackageTable(Struct, frozen=True):
    """One table of the package."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: list[dict[str, Any]]
    key: tuple[str, ...] = ()
    """Columns that tell one row from another."""


def package_tables(
    job: Job, recordings: Sequence[PackagedRecording], fit: Mapping[str, Any], today: date
) -> list[PackageTable]:
    """Every table, also where it has no row: a reader then knows that there was nothing.

    Args:
        job: The job sheet.
        recordings: Those that the results rest on.
        fit: What `capture.analysis.fit.findings.fit` found.
        today: The day by which a calibration is overdue.
    """
    numbered = ("recording", "seq")
    return [
        PackageTable("decision", "Whether the fit conforms", DECISION, list(_decision(fit))),
        PackageTable("verdicts", "What was made of each recording", VERDICTS, _verdicts(recordings)),
        PackageTable("clearance", "Clearance along the bore", CLEARANCE, list(_clearance(fit))),
        PackageTable("sizes", "Diameters along the parts", SIZES, list(_sizes(fit))),
        PackageTable("budget", "Uncertainty of the least clearance", BUDGET, list(_budget(fit))),
        PackageTable("calibrations", "Gauges and masters", CALIBRATIONS, list(_calibrations(job, today))),
        PackageTable(
            "stations",
            "Readings that were taken",
            (RECORDING, *COLUMNS["stations"]),
            _of_each("stations", recordings),
            numbered,
        ),
        PackageTable(
            "passes",
            "Passes of the wheel",
            (RECORDING, *COLUMNS["passes"]),
            _of_each("passes", recordings),
            ("recording", "number"),
        ),
    ]


def _of_each(what: Any, recordings: Sequence[PackagedRecording]) -> list[dict[str, Any]]:
    return [{"recording": one.name, **row} for one in recordings for row in rows(what, one.events, one.state)]


def _verdicts(recordings: Sequence[PackagedRecording]) -> list[dict[str, Any]]:
    found = []
    for one in recordings:
        head = headline_of(one.state)
        row: dict[str, Any] = {"recording": one.name, "verdict": head["verdict"], "whole": head["whole"]}
        for key in ("size", "u_size", "aim", "to_go", "predicted", "u_predicted"):
            row[f"{key}_mm"] = head.get(key)
        found.append(row)
    return found


def _sizes(fit: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    for part in ("bore", "shaft"):
        found = fit[part]
        for row in found["stations"] if found else ():
            yield {
                "recording": found["recording"],
                "part": part,
                "stage": found["stage"],
                "z_mm": row["z"],
                "mean_mm": row["mean"],
                "u_mm": row["u"],
                "angles": row["angles"],
                "ovality_mm": row["ovality"],
                "u_ovality_mm": row["u_ovality"],
            }


def _clearance(fit: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    for row in fit["clearance"]["stations"] if fit["clearance"] else ():
        yield {
            "bore_z_mm": row["bore"],
            "bore_mm": row["size"],
            "least_mm": row["least"],
            "u_mm": row["u"],
            "shaft_z_at_least_mm": row["shaft_at_least"],
            "most_mm": row["most"],
            "shaft_z_at_most_mm": row["shaft_at_most"],
        }


def _decision(fit: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    decision, clearance, combined = fit["decision"], fit["clearance"], fit["uncertainty"]
    if not decision or not clearance:
        return
    least, most = decision["limits"]
    yield {
        "answer": decision["answer"],
        "rule": decision["rule"],
        "least_limit_mm": least,
        "most_limit_mm": most,
        "least_mm": clearance["least"],
        "u_least_mm": clearance["u_least"],
        "expanded_mm": combined["U"],
        "coverage_factor": combined["k"],
        "coverage": combined["coverage"],
        "most_mm": clearance["most"],
        "u_most_mm": clearance["u_most"],
        "probability": decision["probability"],
    }


def _budget(fit: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    for row in fit["budget"] or ():
        yield {
            "name": row["name"],
            "unit_ucum": UNITS.get(row["unit"], row["unit"]),
            "value": row["value"],
            "distribution": row["distribution"],
            "u": row["u"],
            "contribution_mm": row["part"],
            "source": row["source"],
        }


def _calibrations(job: Job, today: date) -> Iterator[dict[str, Any]]:
    for row in calibration_rows(job, today):
        yield {
            "gauge": row["gauge"],
            "of": row["of"],
            "unit_ucum": "K" if row["measures"] == "temperature" else "mm",
            "value": row["value"],
            "limits": row["limits"],
            "expanded": row["expanded"],
            "coverage_factor": row["coverage"],
            "u": row["u"],
            "certificate": row["certificate"] or None,
            "calibrated": row["calibrated"],
            "due": row["due"],
            "overdue": row["state"] == "overdue",
        }
