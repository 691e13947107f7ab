"""Before grinding: the shaft to aim at, the band that guarding leaves, and which gauge can prove the fit.

Keys of the plain data, lengths in millimetres: ``bore`` (its smallest size, ``u``, ``from``), ``aim``,
``limits`` (of the shaft), ``gauges`` (each: ``gauge``, ``measures``, ``u`` by its certificate, ``enough``,
``could``) and ``pairs`` (each gauge of the shaft with the bore as it is known: ``u`` of the clearance,
``band`` left for the clearance, ``shaft`` band, ``enough``, ``limits_due``, ``said``); ``provable``
(``enough``, ``u``, ``u_due``, ``limits_due``, ``width_due``: see `capture.analysis.fit.provable`) and
``cannot``: sentences that say what cannot be proven and what could.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot, sqrt
from typing import Any

from capture.analysis.fit.measured_part import Measured
from capture.analysis.fit.provable import Provable, provable
from capture.metrology.fit.decision import SpecificationLimits
from capture.metrology.fit.proof import GaugeProof, proof
from capture.metrology.gauges.permissible_errors import rectangular
from capture.metrology.gauges.single_reading import scatter_of, with_rounding
from capture.sheet.job import Fit, Gauge, Job, Units
from capture.state.cold_size import expansion_of
from capture.text.catalogue import sentences


def feasibility(job: Job, bore: Measured | None, *, units: Units = "mm") -> dict[str, Any] | None:
    """What can be said before grinding; None where the sheet has no fit."""
    wanted = job.fit
    if wanted is None:
        return None
    size, u_bore, source = _bore(job, wanted, bore)
    clearance = wanted.clearance
    pairs = [
        _pair(job, wanted, gauge, size, u_bore) for gauge in _gauges(job) if gauge.measures == "diameter"
    ]
    whole = _provable(job, wanted, pairs)
    return {
        "bore": {"size": size, "u": u_bore, "from": source},
        "aim": size - clearance.aim,
        "limits": [size - clearance.most, size - clearance.least],
        "rule": wanted.rule,
        "band_due": job.settings.proof.band,
        "gauges": [_alone(job, wanted, gauge) for gauge in _gauges(job)],
        "pairs": pairs,
        "provable": {
            name: getattr(whole, name) for name in ("enough", "u", "u_due", "limits_due", "width_due")
        },
        "cannot": sentences(whole.said, units),
    }


def _provable(job: Job, wanted: Fit, pairs: list[dict[str, Any]]) -> Provable:
    clearance = wanted.clearance
    return provable(
        wanted.rule,
        SpecificationLimits(clearance.least, clearance.most),
        [row["u"] for row in pairs if row["u"] is not None],
        band=job.settings.proof.band,
        warm=wanted.nominal * expansion_of(job, "shaft").alpha,
    )


def _bore(job: Job, wanted: Fit, bore: Measured | None) -> tuple[float, float | None, str]:
    if bore is not None:
        smallest = bore.profile.smallest
        return smallest.value, None if bore.blocks else smallest.u, "measured"
    if wanted.bore is not None:
        return wanted.bore, wanted.u_bore, "sheet"
    known = [u_of(g) for g in _gauges(job) if g.measures == "bore" and g.limits is not None]
    return wanted.nominal, min(known, default=None), "nominal"


def _gauges(job: Job) -> Iterator[Gauge]:
    return (gauge for gauge in job.gauges if gauge.measures in {"diameter", "bore"})


def repeat_of(gauge: Gauge) -> float:
    """Standard deviation of one reading of a gauge, mm, rounding with it."""
    return with_rounding(scatter_of(gauge.repeatability, gauge.resolution), gauge.resolution)


def u_of(gauge: Gauge) -> float:
    """Standard uncertainty of one reading by the certificate, mm."""
    return hypot(rectangular(gauge.limits or 0.0), repeat_of(gauge))


def _alone(job: Job, wanted: Fit, gauge: Gauge) -> dict[str, Any]:
    """Whether the gauge could prove the fit if the other part were known exactly."""
    row: dict[str, Any] = {"gauge": gauge.name, "measures": gauge.measures, "u": None, "enough": None}
    if gauge.limits is None:
        return row | {"could": "the sheet has no limits for it: enter its largest error from its certificate"}
    found = _proof(job, wanted, rectangular(gauge.limits), repeat_of(gauge))
    return row | {"u": u_of(gauge), "enough": found.enough, "could": found.said}


def _pair(job: Job, wanted: Fit, gauge: Gauge, bore: float, u_bore: float | None) -> dict[str, Any]:
    row: dict[str, Any] = {
        "gauge": gauge.name,
        "step": gauge.resolution or None,
        "u": None,
        "band": None,
        "shaft": None,
        "enough": None,
        "limits_due": None,
    }
    if gauge.limits is None or u_bore is None:
        missing = "the gauge's limits" if gauge.limits is None else "how well the bore is known"
        return row | {"said": f"no band can be worked out: {missing} is missing"}
    repeat = repeat_of(gauge)
    found = _proof(job, wanted, hypot(rectangular(gauge.limits), u_bore), repeat)
    left = found.acceptance
    band = None if left.least is None or left.most is None else [left.least, left.most]
    due = None if found.u_due is None else found.u_due**2 - u_bore**2 - repeat**2
    return row | {
        "u": left.u,
        "band": band,
        "shaft": None if band is None else [bore - band[1], bore - band[0]],
        "enough": found.enough,
        "limits_due": None if due is None or due <= 0 or due == float("inf") else sqrt(3 * due),
        "said": found.said,
    }


def _proof(job: Job, wanted: Fit, systematic: float, repeat: float) -> GaugeProof:
    limits = SpecificationLimits(wanted.clearance.least, wanted.clearance.most)
    return proof(
        wanted.rule, limits, systematic=systematic, repeat=repeat, readings=1, band=job.settings.proof.band
    )
