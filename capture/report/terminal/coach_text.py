"""The coach as text for a terminal: the next step, where it leads, the table, and the machine."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from capture.analysis.grind.machine_memory import FINDINGS, Agreement, agreed, agreement
from capture.sheet.job import Known, Units
from capture.text.lengths import percent, size, small, sure, within

K95 = 1.96
"""Two-sided 95 % of a normal distribution."""


def coach_text(found: Mapping[str, Any], units: Units) -> str:
    """What `capture.analysis.grind.next_step.coach_of` found, as a person reads it; in sentences already."""
    when = f"after pass {found['after']}" if found["after"] else "before the first pass"
    lines = [f"Next, {when}: {found['say']}."]
    lines += [f"  {_sentence(one)}" for one in found["more"]]
    lines += [
        f"  {_sentence(one)}" for one in (_landing(found, units), _machine(found["machine"], units)) if one
    ]
    lines += [f"  ? {_capital(one)}" for one in found["questions"]]
    return "\n".join([*lines, f"  {_sentence(found['caution'])}"])


def _landing(found: Mapping[str, Any], units: Units) -> str:
    """Where the advice leads, as far as it is known."""
    if found["final"] is None or found["u_final"] is None:
        return ""
    step = found["gauge_step"]
    u = within(K95 * found["u_final"], units, step)
    said = f"lands at {size(found['final'], units, step=step)} ± {u} (95 %)"
    chances = [
        f"{name} {sure(found[key])}"
        for key, name in (("p_inside", "in the band"), ("p_under", "under it"), ("p_over", "over it"))
        if found[key] is not None
    ]
    return ": ".join(filter(None, [said, ", ".join(chances)]))


def _machine(found: Mapping[str, Any], units: Units) -> str:
    """What this job shows of the machine, and how it agrees with earlier jobs."""
    job = Known(**{key: found[key] for key in ("share", "u_share", "obeys", "u_obeys")})
    before = Known() if found["known"] is None else Known(**found["known"])
    compared = {one.what: agreed(one) for one in agreement(before, job)}
    parts = [
        compared.get(what, FINDINGS[what].format(f"{percent(share)} ± {percent(K95 * (u or 0.0))} (95 %)"))
        for what, share, u in (("share", job.share, job.u_share), ("obeys", job.obeys, job.u_obeys))
        if share is not None
    ]
    scatter = found["scatter"]
    more = {one["what"]: agreed(Agreement(**one), units) for one in found.get("agreement", [])}
    if scatter is not None:
        parts.append(more.get("scatter", f"readings scatter {small(scatter, units)}"))
    return "; ".join([*parts, *(more[what] for what in ("gain", "heat") if what in more)])


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _sentence(text: str) -> str:
    return f"{_capital(text)}."
