"""The coach as text for a terminal: the next step, where it leads, the table, and the machine."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from capture.folds.lengths import size, small, sure
from capture.sheet import Units

K95 = 1.96
"""Two-sided 95 % of a normal distribution."""
APART = 2.0
"""Standard uncertainties from which on a machine is said to be another than it was."""


def coach_text(found: Mapping[str, Any], units: Units) -> str:
    """What `capture.folds.coach.coach_of` found, as a person reads it; its sentences are in words already."""
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
    said = f"landing at {size(found['final'], units)} ± {small(K95 * found['u_final'], units)} (95 %)"
    chances = [
        f"{name} {sure(found[key])}"
        for key, name in (("p_inside", "in the band"), ("p_under", "under it"), ("p_over", "over it"))
        if found[key] is not None
    ]
    return ": ".join(filter(None, [said, ", ".join(chances)]))


def _machine(found: Mapping[str, Any], units: Units) -> str:
    """What this job shows of the machine, and how it agrees with earlier jobs."""
    return "; ".join(_of_machine(found, units))


def _of_machine(found: Mapping[str, Any], units: Units) -> Iterator[str]:
    known = found["known"] or {}
    if found["share"] is not None:
        u = found["u_share"]
        earlier = _earlier(found["share"], u, known.get("share"), known.get("u_share"))
        spread = "" if u is None else f" ± {_percent(K95 * u)} (95 %)"
        yield f"a pass takes {_percent(found['share'])}{spread} of what is to come{earlier}"
    if found["obeys"] is not None:
        earlier = _earlier(found["obeys"], found["u_obeys"], known.get("obeys"), known.get("u_obeys"))
        yield f"the table does {_percent(found['obeys'])} of what its indicator shows{earlier}"
    if found["scatter"] is not None:
        yield f"readings scatter {small(found['scatter'], units)}"


def _earlier(now: float, u_now: float | None, then: float | None, u_then: float | None) -> str:
    if then is None:
        return ""
    u = ((u_now or 0.1) ** 2 + (u_then or 0.1) ** 2) ** 0.5
    agrees = "agrees" if abs(now - then) <= APART * u else "DOES NOT AGREE"
    return f" (earlier jobs {_percent(then)}: {agrees})"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _sentence(text: str) -> str:
    return f"{_capital(text)}."
