"""The gauges' page: of each gauge its live value, how its link has been, and what to do about it."""

from __future__ import annotations

from typing import Any

from capture.sheet.job import Gauge, Units
from capture.state.health import GARBLED_HINT, STOPPED, Health
from capture.state.session import UNHEARD, State
from dashboard.sources.scene import Scene
from dashboard.text.screen import word
from dashboard.views.gauges import extra, link, now, value
from dashboard.views.lengths import age

WEAK = 20.0
"""Battery level in % from which to think of another (common practice, no source)."""
SLOW = 0.5
"""Readings a second below which an interval says more than a rate."""
LONGEST = 60
"""Characters of what was sent that are shown."""


def instruments(scene: Scene, units: Units) -> dict[str, Any]:
    """What the page shows of *scene*."""
    state = scene.state
    rows = [] if state is None else [_row(gauge, state, units, scene) for gauge in state.job.gauges]
    return {"gauges-cards[]": rows, "gauges-cards-none": "" if rows else word("gauge.none")}


def _row(gauge: Gauge, state: State, units: Units, scene: Scene) -> list[list[str | None]]:
    health = state.health.get(gauge.name, UNHEARD)
    since, known = health.age(state.at), now(scene)
    since = None if since is None else since + extra(scene)
    how = known or link(gauge, health, since)
    hint = word(f"gauge.hint-{known}") if known else _hint(gauge, health, since)
    return [
        [gauge.name],
        [word(f"gauge.measures-{gauge.measures}", part=gauge.part)],
        [word(f"gauges.{how}"), how],
        [value(health.last, units, gauge.resolution)],
        [word("gauge.age-none") if since is None else word("gauge.age", age=age(since))],
        [_rate(health)],
        [word("gauge.readings", readings=health.readings)],
        [_battery(health), "bad" if _weak(health) else None],
        [_garbled(health), "bad" if health.in_a_row else None],
        [_history(health, state, 0.0 if known else extra(scene), known)],
        ["" if health.last is None else word("gauge.raw", raw=_sent(health.last.raw))],
        [hint or word("gauge.hint-none"), "hint" if hint else None],
    ]


def _rate(health: Health) -> str:
    rate = health.rate
    if rate is None:
        return word("gauge.rate-none")
    if rate < SLOW:
        return word("gauge.rate-slow", every=age(1 / rate))
    return word("gauge.rate", rate=f"{rate:.1f}")


def _garbled(health: Health) -> str:
    if not health.garbled:
        return word("gauge.garbled-none")
    return word("gauge.garbled", garbled=health.garbled, why=health.last_garbled)


def _battery(health: Health) -> str:
    if health.battery is None:
        return word("gauge.battery-none")
    return word("gauge.battery", level=f"{health.battery:.0f}")


def _weak(health: Health) -> bool:
    return health.battery is not None and health.battery < WEAK


def _history(health: Health, state: State, more: float, known: str) -> str:
    if health.up is None or health.since is None:
        return word("gauge.link-none")
    since = age((state.at.mono - health.since.mono) / 1e9 + more)
    key = ("gauge.link-was" if known else "gauge.link-up") if health.up else "gauge.link-down"
    how = word(key, detail=health.detail, since=since)
    times = word("gauge.downs", downs=health.downs) if health.downs else word("gauge.downs-none")
    return f"{how}; {times}"


def _sent(raw: str) -> str:
    """What came, with what can't be seen written out; a byte is a character."""
    shown = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in raw.strip("\r\n"))
    return shown if len(shown) <= LONGEST else shown[: LONGEST - 1] + "…"


def _hint(gauge: Gauge, health: Health, since: float | None) -> str:
    """What to do about a gauge; the gravest first."""
    how = link(gauge, health, since)
    if how == "down" and health.detail == STOPPED:
        return word("gauge.hint-stopped")
    if how in {"never", "down"}:
        return word(f"gauge.hint-{how}")
    if health.in_a_row >= GARBLED_HINT:
        return word("gauge.hint-garbled", count=health.in_a_row)
    if how == "silent":
        return word("gauge.hint-silent")
    length = gauge.measures in {"diameter", "bore", "infeed", "table", "runout"}
    if length and health.last is not None and health.last.unit != "mm":
        return word("gauge.hint-unit")
    return word("gauge.hint-battery") if _weak(health) else ""
