"""The history on the page: the fields of a search, and its answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta

from dash import dcc, html
from dash.development.base_component import Component

from capture.shop.history.search import COUNTED, FoundJob, JobSearch
from capture.text.lengths import percent
from dashboard.text.screen import WORDS, word
from dashboard.views.lengths import size, small

FIELDS = ("words", "machine", "wheel", "gauge", "since", "until")
COLUMNS = ("began", "machine", "job", "wheel", "passes", "verdict", "size", "share", "growth")


class BadSearch(ValueError):
    """A field that cannot be searched for, in words."""


def search_fields() -> html.Div:
    """A field for each thing that is searched for; names that there are come as they are typed."""
    fields = [
        html.Div(
            [
                html.Label(word(f"shop.{name}"), htmlFor=f"shop-{name}"),
                dcc.Input(
                    id=f"shop-{name}",
                    type="text",
                    debounce=0.4,
                    autoComplete="off",
                    list=f"shop-{name}-names",
                    placeholder="2026-03-01" if name in {"since", "until"} else "",
                ),
                html.Datalist(id=f"shop-{name}-names"),
            ],
            className="field",
        )
        for name in FIELDS
    ]
    return html.Div(fields, className="fields")


def search_of(given: Mapping[str, str | None]) -> JobSearch:
    """The search that the fields ask for; the last day counts whole.

    Raises:
        BadSearch: A date is none.
    """
    texts = {name: (given.get(name) or "").strip() for name in FIELDS}
    until = _day(texts["until"])
    return JobSearch(
        words=texts["words"],
        machine=texts["machine"],
        wheel=texts["wheel"],
        gauge=texts["gauge"],
        since=_day(texts["since"]),
        until=None if until is None else until + timedelta(days=1),
    )


def _day(text: str) -> datetime | None:
    if not text:
        return None
    try:
        return datetime.fromisoformat(text).replace(tzinfo=UTC)
    except ValueError:
        raise BadSearch(word("shop.bad-date", came=text[:40])) from None


def found_jobs(found: Sequence[FoundJob], number: int, seconds: float) -> Component:
    """The jobs of a search, the newest first, with how many there are and how long it took."""
    if not found:
        return html.P(word("shop.found-none"), className="empty")
    key = "shop.found" if number <= len(found) else "shop.found-newest"
    key = "shop.found-many" if number >= COUNTED else key
    head = html.Tr([html.Th(word(f"shop.{name}"), scope="col") for name in COLUMNS])
    body = [html.Tr([html.Td(cell) for cell in _cells(one)]) for one in found]
    said = html.P(word(key, number=number, shown=len(found), seconds=f"{seconds:.2f}"), role="status")
    return html.Div([said, html.Table([html.Thead(head), html.Tbody(body)], className="rows")])


def _cells(one: FoundJob) -> list[str]:
    return [
        "" if one.began is None else one.began.astimezone().strftime("%Y-%m-%d %H:%M"),
        one.machine,
        one.job,
        one.wheel,
        "" if one.passes is None else str(one.passes),
        WORDS.get(f"flag.{one.verdict}", one.verdict or ""),
        "" if one.size is None else size(one.size, "mm"),
        "" if one.share is None else percent(one.share),
        "" if one.growth is None else small(one.growth, "mm"),
    ]
