"""The material that the wheel cuts: the shaft's own before plating, hard chrome afterwards."""

from __future__ import annotations

from capture.metrology.grinding.wheel.wheel_and_work import Material
from capture.sheet.job import Job
from capture.state.strip_target import before_plating, plating_of

HARD = 40.0
"""HRC from which steel is ground as hardened (common practice, no source)."""


def material_cut(job: Job, stage: str | None) -> tuple[Material, bool]:
    """The material, and whether it is assumed: a sheet need not say how hard a steel is."""
    if plating_of(job) is not None and not before_plating(stage):
        return "hard chrome", False
    name = "" if job.shaft is None or job.shaft.material is None else job.shaft.material.lower()
    if "iron" in name:
        return "cast iron", False
    hardness = None if job.shaft is None else job.shaft.hardness
    if hardness is None:
        return "steel, hardened", True
    return ("steel, hardened" if hardness >= HARD else "steel, soft"), "steel" not in name
