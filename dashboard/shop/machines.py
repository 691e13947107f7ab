"""The table of machines: a function of what is known of each, and of the time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from urllib.parse import quote

from dash import html
from dash.development.base_component import Component

from capture.shop.live import MachineNow
from capture.state.health import Health
from capture.state.session import State
from dashboard.sources.scene import Scene
from dashboard.text.screen import word
from dashboard.views.elements.controls import plain
from dashboard.views.gauges import link
from dashboard.views.grinder.verdict import verdict
from dashboard.views.lengths import age
from dashboard.views.size import figures

OLD = 30.0
"""Seconds without an event, where a capture beats once a second, after which what is said was so then."""
COLUMNS = ("machine", "says", "size", "to-go", "age", "gauges", "job")


def machine_table(machines: Sequence[MachineNow], wall: int) -> Component:
    """A row for each machine; *wall* is now, in nanoseconds since 1970."""
    if not machines:
        return html.P(word("shop.none"), className="empty")
    head = html.Tr([html.Th(word(f"shop.{name}"), scope="col") for name in COLUMNS])
    return html.Table([html.Thead(head), html.Tbody([_row(one, wall) for one in machines])], className="rows")


def _row(one: MachineNow, wall: int) -> html.Tr:
    state = one.state
    since = None if state is None or state.seq < 0 else max((wall - state.at.wall) / 1e9, 0.0)
    banner, says = _says(one)
    if since is not None and since > OLD:
        banner, says = "none", word("shop.old", says=says)
    units = state.job.units if state is not None else "mm"
    shown = figures(state, units) if state is not None else {}
    name = html.A(one.name, href=f"/machine/{quote(one.name)}", target="_blank", rel="noopener")
    cells = [
        html.Th(name if one.path is not None else one.name, scope="row"),
        html.Td(says, className="banner", **plain(data_state=banner)),
        html.Td(_figure(shown, "size"), className="number"),
        html.Td(_figure(shown, "togo"), className="number"),
        html.Td([age(since), *_offline(one)], className="number"),
        html.Td(gauge_health(state, since)),
        html.Td(state.job.name if state is not None else ""),
    ]
    for column, cell in zip(COLUMNS[1:], cells[1:], strict=True):
        setattr(cell, "data-label", word(f"shop.{column}"))
    return html.Tr(cells)


def _figure(shown: Mapping[str, str | None], name: str) -> str:
    """A figure with its unit, as the machine's own page shows it; empty where it is not known."""
    unit = shown.get(f"{name}-unit")
    return f"{shown.get(name)} {unit}" if unit else ""


def _offline(one: MachineNow) -> list[Component]:
    return [html.Div(word("shop.offline"), className="bad")] if one.online is False else []


def _says(one: MachineNow) -> tuple[str, str]:
    """The state of its banner, and the sentence."""
    if one.refused:
        return "none", word("shop.refused", why=one.refused)
    if one.state is None:
        return "none", word("say.waiting")
    if one.behind and one.state.seq < 0:
        return "none", word("shop.behind", events=one.state.seq + 1)
    said = verdict(Scene("live", state=one.state), one.state.job.units)
    return said["banner@data-state"] or "none", said["say"] or ""


def gauge_health(state: State | None, since: float | None) -> str:
    """What is wrong with which gauge, else how many are well."""
    if state is None or not state.job.gauges:
        return ""
    wrong = list(_wrong(state, since or 0.0))
    return ", ".join(wrong) or word("shop.gauges-well", number=len(state.job.gauges))


def _wrong(state: State, extra: float) -> Iterator[str]:
    for gauge in state.job.gauges:
        health = state.health.get(gauge.name, Health())
        old = health.age(state.at)
        how = link(gauge, health, None if old is None else old + extra)
        if how == "up" and health.in_a_row:
            how = "garbled"
        if how != "up":
            yield word(f"shop.gauge-{how}", name=gauge.name)
