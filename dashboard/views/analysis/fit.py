"""The fit as a page: decision, smallest place, map over the travel, conditions and budget."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html
from dash.development.base_component import Component

from capture.sheet.job import Units
from capture.text.lengths import band, cause, percent, short, small_band, sure
from capture.text.rounded import inward
from dashboard.text.screen import word
from dashboard.views.analysis.fit_map import Tries, travel
from dashboard.views.elements.boxes import box, bullets, grid, offered
from dashboard.views.elements.controls import plain
from dashboard.views.elements.theme import Theme
from dashboard.views.lengths import place, size, small, within

SHAPES = {"conforms": "✓", "does not conform": "✕", "not proven": "?"}


def fit_body(found: Mapping[str, Any], units: Units, theme: Theme, tries: Tries = ()) -> list[Any]:
    """Everything that the page shows of what `capture.analysis.fit.findings.fit` found, and the tries."""
    if found["nominal"] is None:
        return [offered(word("fit.no-fit"), "job")]
    known = found["clearance"] is not None
    return [
        _answer(found),
        html.Div(_figures(found, units) if known else _before_figures(found, units), className="cards"),
        html.Div(
            [
                bullets(word("fit.blocks"), found["blocks"], "bad"),
                bullets(word("fit.cannot"), found["before"]["cannot"], "bad"),
                bullets(word("fit.conditions"), found["conditions"]),
            ],
            className="said",
        ),
        *(travel(found, units, theme, tries) if known else ()),
        *(_proof(found, units) if known else ()),
        _parts(found),
        _before(found["before"], units),
    ]


def _answer(found: Mapping[str, Any]) -> html.Div:
    """The answer as a sentence with its shape, never by colour alone."""
    decision = found["decision"]
    if decision is None:
        sentence, why, state = word("fit.no-answer"), "; ".join(found["blocks"]) + ".", "none"
        return _signboard("○", sentence, why, state)
    answer = decision["answer"]
    why = word("fit.why", rule=decision["rule"], why=decision["why"])
    if found["blocks"] and decision["whole"]:
        why += " " + word("fit.by-figures", answer=word(f"fit.{decision['by_figures']}").lower())
    return _signboard(SHAPES[answer], word(f"fit.{answer}"), why, answer.replace(" ", "-"))


def _signboard(shape: str, sentence: str, why: str, state: str) -> html.Div:
    said = [html.Span(shape, **plain(aria_hidden="true")), html.H1(sentence), html.P(why)]
    return html.Div(said, className="answer", role="status", **plain(data_state=state))


def _card(title: str, figure: str, *notes: str) -> html.Div:
    return html.Div(
        [html.H2(title), html.P(figure, className="big"), *(html.P(note) for note in notes if note)]
    )


def _figures(found: Mapping[str, Any], units: Units) -> list[html.Div]:
    clearance, decision, u = found["clearance"], found["decision"], found["uncertainty"]
    low, high = decision["limits"]
    step = clearance["step"]
    spread = word("fit.u", u=within(u["U"], units, step), k=f"{u['k']:.2f}", coverage=percent(u["coverage"]))
    allowed = clearance["allowed_for"]
    return [
        _card(
            word("fit.least"),
            small(clearance["least"], units, step),
            spread,
            at(clearance["least_at"], units),
            word("fit.allowed", length=small(allowed, units)) if allowed else "",
        ),
        _card(
            word("fit.most"),
            small(clearance["most"], units, step),
            at(clearance["most_at"], units),
            word("fit.due", low=short(low, units), high=short(high, units)),
        ),
        _probability(decision),
        _band(word("fit.band"), decision["band"], (low, high), units, step),
    ]


def _probability(decision: Mapping[str, Any]) -> html.Div:
    """How likely it conforms; of a part that is not wholly measured nobody knows."""
    if not decision["whole"]:
        return _card(word("fit.probability"), word("unknown"), word("fit.not-whole"))
    return _card(word("fit.probability"), sure(decision["probability"]), word("fit.worse"))


def _band(
    title: str, left: Sequence[float] | None, limits: Sequence[float], units: Units, step: float | None
) -> html.Div:
    if left is None:
        return _card(title, word("fit.no-band"), word("fit.no-band-note"))
    drawn = inward(left[0], left[1], step, units) or left
    width, whole = small(drawn[1] - drawn[0], units, step), small(limits[1] - limits[0], units, step)
    return _card(
        title,
        " – ".join(small_band((left[0], left[1]), units, step)),
        word("fit.band-note", width=width, whole=whole),
    )


def _before_figures(found: Mapping[str, Any], units: Units) -> list[html.Div]:
    """What can be said before there is a clearance: the aim, and the band that guarding will leave."""
    row = found["before"]
    low, high = row["limits"]
    step = max((each["step"] or 0.0 for each in row["pairs"]), default=0.0) or None
    aim, (least, most) = size(row["aim"], units, step), band((low, high), units, step)
    cards = [_card(word("plan.aim"), aim, word("fit.before-aim", aim=aim, low=least, high=most))]
    for each in row["pairs"]:
        if each["shaft"] is None:
            cards.append(_card(word("fit.band-left"), word("unknown"), each["said"]))
            continue
        low, high = each["shaft"]
        cards.append(
            _card(
                word("fit.band-left"),
                small(high - low, units),
                " – ".join(band((low, high), units, each["step"])),
                each["said"],
            )
        )
    return cards


def at(where: Mapping[str, float | None], units: Units) -> str:
    """Where in the bore, on the shaft, and with the shaft standing where."""
    known = {key: place(z, units) for key, z in where.items() if z is not None}
    if "offset" in known and len(known) == 3:
        return word("fit.at-travel", **known)
    return ", ".join(word(f"fit.at-{part}", place=known[part]) for part in ("bore", "shaft") if part in known)


def _proof(found: Mapping[str, Any], units: Units) -> list[Any]:
    kelvin = found["closes_at"]
    closes = html.P(word("fit.closes", kelvin=f"{kelvin:.1f}"), className="caution") if kelvin > 0 else None
    return [
        box(word("fit.stations"), _stations(found, units)),
        box(word("fit.heat"), _heat(found, units), closes),
        _budget(found, units),
    ]


def _stations(found: Mapping[str, Any], units: Units) -> Component:
    """Clearance at each station of the bore."""
    clearance = found["clearance"]
    step, bore_step = clearance["step"], None if found["bore"] is None else found["bore"]["step"]
    rows = [
        [
            "–" if each["bore"] is None else place(each["bore"], units),
            size(each["size"], units, bore_step),
            small(each["least"], units, step),
            "–" if each["shaft_at_least"] is None else place(each["shaft_at_least"], units),
            small(each["most"], units, step),
            small(each["u"], units),
        ]
        for each in clearance["stations"]
    ]
    names = ("bore-at", "bore", "least-short", "shaft-at", "most-short", "u-short")
    return grid(word("fit.stations"), [word(f"fit.{one}") for one in names], rows, numbers=1)


def _heat(found: Mapping[str, Any], units: Units) -> Component:
    """The smallest clearance at 20 °C and at each working temperature."""
    step = found["clearance"]["step"]
    rows = [
        [
            each["what"],
            f"{each['bore']:.1f} °C",
            f"{each['shaft']:.1f} °C",
            small(each["least"], units, step),
            small(each["u"], units),
        ]
        for each in found["temperatures"]
    ]
    parts = (word("part.bore").capitalize(), word("part.shaft").capitalize())
    head = [word("fit.heat-what"), *parts, word("fit.heat-is"), word("fit.u-short")]
    return grid(word("fit.heat"), head, rows, numbers=1)


def _budget(found: Mapping[str, Any], units: Units) -> html.Section:
    u, simulated = found["uncertainty"], found["simulation"]
    rows = [
        [
            each["name"],
            each["distribution"],
            cause(each["u"], each["unit"], units),
            small(each["part"], units),
            percent(each["share"]),
            each["source"],
        ]
        for each in found["budget"]
    ]
    head = [word(f"fit.budget-{one}") for one in ("name", "kind", "u", "part", "share", "source")]
    together = word(
        "fit.together",
        u=small(u["u"], units),
        U=small(u["U"], units),
        k=f"{u['k']:.2f}",
        coverage=percent(u["coverage"]),
    )
    said = (
        None
        if simulated is None
        else html.P(
            word(
                "fit.simulated",
                trials=simulated["trials"],
                least=small(simulated["least"], units),
                u=small(simulated["u"], units),
                said=simulated["said"],
            )
        )
    )
    return box(word("fit.budget"), grid(word("fit.budget"), head, rows), html.P(together), said)


def _parts(found: Mapping[str, Any]) -> html.Section:
    lines = []
    for part in ("bore", "shaft"):
        row, name = found[part], word(f"part.{part}").capitalize()
        if row is None:
            lines.append(html.P(word("fit.part-none", part=name)))
            continue
        stage = word("fit.part-stage", stage=row["stage"]) if row["stage"] else ""
        key, count = "fit.part-one" if row["readings"] == 1 else "fit.part", row["readings"]
        lines.append(html.P(word(key, part=name, readings=count, recording=row["recording"], stage=stage)))
    return box(word("fit.parts"), *lines)


def _before(row: Mapping[str, Any], units: Units) -> html.Section:
    bore = row["bore"]
    low, high = row["limits"]
    rows = [
        [
            each["gauge"],
            small(each["u"], units),
            word("unknown")
            if each["shaft"] is None
            else " – ".join(band(each["shaft"], units, each["step"])),
            each["said"]
            + (
                ""
                if each["limits_due"] is None or each["enough"]
                else "; " + word("fit.before-due", limits=small(each["limits_due"], units))
            ),
        ]
        for each in row["pairs"]
    ]
    alone = [html.P(f"{each['gauge']}: {each['could']}.") for each in row["gauges"]]
    head = [word(f"fit.before-{one}") for one in ("gauge", "u", "band", "said")]
    source = word(f"fit.from-{bore['from']}")
    step = max((each["step"] or 0.0 for each in row["pairs"]), default=0.0) or None
    aim, (least, most) = size(row["aim"], units, step), band((low, high), units, step)
    return box(
        word("fit.before"),
        html.P(word("fit.before-bore", size=size(bore["size"], units), source=source)),
        html.P(word("fit.before-aim", aim=aim, low=least, high=most)),
        grid(word("fit.before"), head, rows) if rows else None,
        *alone,
    )
