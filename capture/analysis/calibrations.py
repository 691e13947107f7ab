"""Every calibration that a job rests on: of gauges and of their masters, and which are overdue."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal, TypeAlias

from capture.analysis.calibration_certificate import CalibrationCertificate, CertifiedLength, overdue
from capture.metrology.units import MM_PER_INCH
from capture.sheet.gauges.gauge import Gauge
from capture.sheet.job import Job, Units

Calibrated: TypeAlias = Literal["gauge", "master"]
"""What a certificate is of: the gauge itself, or the master that it is set on."""
CalibrationState: TypeAlias = Literal["valid", "overdue", "no day", "no certificate"]


def calibration_rows(job: Job, today: date) -> list[dict[str, Any]]:
    """One row for each gauge of the sheet, and one for each master on the sheet.

    Lengths are in mm, those of a temperature in K; ``u`` is the expanded uncertainty over its coverage factor
    (JCGM 100:2008, 6.2). ``days`` are those until it is due, negative where it is overdue.
    """
    rows = []
    for gauge in job.gauges:
        rows.append(_row(gauge, "gauge", today))
        if gauge.master_size or gauge.master_certificate or gauge.master_due or gauge.master_expanded:
            rows.append(_row(gauge, "master", today))
    return rows


def _row(gauge: Gauge, of: Calibrated, today: date) -> dict[str, Any]:
    master = of == "master"
    expanded = gauge.master_expanded if master else gauge.expanded
    number = gauge.master_certificate if master else gauge.certificate
    due = gauge.master_due if master else gauge.due
    return {
        "gauge": gauge.name,
        "of": of,
        "measures": gauge.measures,
        "value": gauge.master_size if master else None,
        "limits": None if master else gauge.limits,
        "expanded": expanded,
        "coverage": None if expanded is None else gauge.coverage,
        "u": None if expanded is None else expanded / gauge.coverage,
        "certificate": number,
        "calibrated": None if master else gauge.calibrated,
        "due": due,
        "days": None if due is None else (date.fromisoformat(due) - today).days,
        "state": _state(number, due, today),
    }


def _state(number: str, due: str | None, today: date) -> CalibrationState:
    if overdue(due, today):
        return "overdue"
    if due is not None:
        return "valid"
    return "no day" if number else "no certificate"


def sheet_keys(
    found: CalibrationCertificate,
    length: CertifiedLength | None,
    of: Calibrated,
    due: str | None,
    gauge: Gauge,
    units: Units,
) -> dict[str, Any]:
    """Keys of a gauge on a sheet in *units*, from a certificate and one length of it.

    A sheet has one coverage factor for a gauge and its master: where the other has an uncertainty already,
    this one is written at that factor, so that its standard uncertainty is what the certificate says.

    Args:
        found: The certificate.
        length: Of a master its size; of a gauge one whose uncertainty is that of its calibration.
        of: The gauge itself or its master.
        due: When it is due again, ISO 8601: a certificate does not say.
        gauge: As it is on the sheet.
        units: Of the sheet.
    """
    scale = 1.0 if units == "mm" else 1.0 / MM_PER_INCH
    master = of == "master"
    keys: dict[str, Any]
    if master:
        keys = {"master_certificate": found.number, "master_due": due}
    else:
        keys = {"certificate": found.number, "calibrated": found.performed, "due": due}
    if master and length is not None:
        keys["master_size"] = round(scale * length.value, 7)
    if length is not None and length.u is not None and length.k is not None:
        other = gauge.expanded if master else gauge.master_expanded
        k = length.k if other is None else gauge.coverage
        keys["master_expanded" if master else "expanded"] = round(scale * k * length.u, 8)
        keys["coverage"] = k
    return {key: value for key, value in keys.items() if value not in {None, ""}}
