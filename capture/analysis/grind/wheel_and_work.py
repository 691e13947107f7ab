"""Wheel and work of a job: what the sheet sets, beside what is usual for the material that is cut now.

A shaft with plating on its sheet is base metal before it is plated and hard chrome afterwards; which it is
follows from the stage.
"""

from __future__ import annotations

from typing import Any

from msgspec import to_builtins

from capture.metrology.cautions import caution
from capture.metrology.grinding.wheel.wheel_and_work import (
    DATA,
    LONGEST_OVER_DIAMETER,
    Cut,
    WheelAndWork,
    judged,
    too_fast,
    usual_settings,
)
from capture.sheet.job import Job, Units
from capture.sheet.wheel_work import WheelData, WorkData
from capture.state.steps.cut_material import material_cut
from capture.text.catalogue import sentence


def setting_of(job: Job, infeed: float | None) -> WheelAndWork:
    """What is set, by the sheet; *infeed* of the newest pass, mm on diameter."""
    wheel, work = job.wheel or WheelData(), job.work or WorkData()
    return WheelAndWork(
        wheel_diameter=wheel.diameter,
        wheel_width=wheel.width,
        wheel_rpm=wheel.spindle_rpm,
        marked_speed=wheel.marked_speed,
        marked_rpm=wheel.marked_rpm,
        work_diameter=None if job.fit is None else job.fit.nominal,
        work_rpm=work.spindle_rpm,
        traverse=work.traverse,
        infeed=infeed,
        dress_lead=wheel.dress_lead,
    )


def wheel_and_work(
    job: Job,
    *,
    stage: str | None = None,
    infeed: float | None = None,
    cut: Cut = "finish",
    units: Units = "mm",
) -> dict[str, Any]:
    """Figures of wheel and work as plain data, lengths in mm.

    Args:
        job: The sheet.
        stage: The stage in hand, which distinguishes base metal from chromium.
        infeed: Of the newest pass, mm on diameter.
        cut: Rough or finish.
        units: Of the sentences.
    """
    material, assumed = material_cut(job, stage)
    setting = setting_of(job, infeed)
    times = too_fast(setting)
    return {
        "material": material,
        "material_assumed": assumed,
        "cut": cut,
        "figures": [
            {
                "name": one.name,
                "value": one.value,
                "unit": one.unit,
                "verdict": one.verdict,
                "usual": None if one.usual is None else to_builtins(one.usual),
            }
            for one in judged(setting, material, cut)
        ],
        "set": usual_settings(setting, material, cut),
        "wheel": to_builtins(DATA[material].wheel) | {"marking_on_sheet": (job.wheel or WheelData()).marking},
        "too_fast": times,
        "slender": slenderness(job),
        "cautions": [
            {**to_builtins(caution(key)), "text": sentence(caution(key).text, units)}
            for key in ("wheel speed", "ring test", "wheel start")
        ],
    }


def slenderness(job: Job) -> dict[str, Any] | None:
    """Length over diameter, and whether a steady rest is due; None where the sheet lacks one of them."""
    if job.fit is None or job.work is None or job.work.between_centres is None:
        return None
    ratio = job.work.between_centres / job.fit.nominal
    return {
        "ratio": ratio,
        "limit": LONGEST_OVER_DIAMETER,
        "basis": "common practice, no source",
        "steady_rest": job.work.steady_rest,
        "due": ratio > LONGEST_OVER_DIAMETER and not job.work.steady_rest,
        "bends": bending(job.work.between_centres, job.fit.nominal),
    }


def bending(length: float, diameter: float, modulus: float = 206e3) -> float:
    """How far a force of 1 N in its middle bends work between centres, mm per N: ``F L^3 / (48 E I)``.

    The formula of a simply supported beam of round section, ``I = pi d^4 / 64`` (any handbook of mechanics).

    Args:
        length: Between centres, mm.
        diameter: mm.
        modulus: Young's modulus, N/mm2; that of steel.
    """
    return length**3 * 64.0 / (48.0 * modulus * 3.141592653589793 * diameter**4)
