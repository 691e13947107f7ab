"""The fit as text for a terminal, in the job's own units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from capture.report.terminal.tables import table
from capture.sheet.job import Units
from capture.text.lengths import band, cause, size, small, small_band, sure, within

ANSWERS = {"conforms": "CONFORMS", "does not conform": "DOES NOT CONFORM", "not proven": "NOT PROVEN"}
CLOSEST = ("H5/g4", "H6/g5", "RC1")
BLIND = (
    "Two-point gauges do not see odd lobes or a bent axis: here lobes of {lobes} amplitude on one part, or a "
    "bow of {bow}, would take the clearance under its least unseen."
)


def fit_text(found: Mapping[str, Any], units: Units) -> str:
    """What `capture.analysis.fit.findings.fit` found, as a person reads it."""
    parts = [str(found["job"]), *_answer(found, units)]
    if found["clearance"] is None:
        parts += [before_text(found["before"], units)] if found["before"] else []
    for part in ("bore", "shaft"):
        if found[part] is not None:
            parts.append(part_text(part, found[part], units))
    if found["clearance"] is not None:
        parts += [
            _stations(found["clearance"], units),
            _temperatures(found["temperatures"], units, found["clearance"]["step"]),
            budget_text(found["budget"], found["uncertainty"], units),
            *_simulation(found["simulation"], units),
            *_blind(found["blind"], units),
            _closes(found["closes_at"]),
            before_text(found["before"], units),
        ]
    parts += [orientation_text(found["orientation"], units)]
    return "\n\n".join(part for part in parts if part)


def _answer(found: Mapping[str, Any], units: Units) -> Iterator[str]:
    if found["clearance"] is not None:
        yield answer_text(found, units)
    if found["blocks"]:
        yield "\n".join(["Nothing is proven, because:", *(f"  - {one}" for one in found["blocks"])])
    if found["conditions"]:
        yield "\n".join(
            ["This holds under these conditions:", *(f"  - {one}" for one in found["conditions"])]
        )


def answer_text(found: Mapping[str, Any], units: Units) -> str:
    """Smallest and largest clearance and the decision, a few lines."""
    clearance, decision, u = found["clearance"], found["decision"], found["uncertainty"]
    low, high = decision["limits"]
    step = clearance["step"]
    lines = [
        (
            f"Clearance on diameter at 20 °C: {small(clearance['least'], units, step=step)} "
            f"± {within(u['U'], units, step)} (k = {u['k']:.2f}) least, "
            f"{place_text(clearance['least_at'], units)};"
        ),
        (
            f"{small(clearance['most'], units, step=step)} most, {place_text(clearance['most_at'], units)}. "
            f"Due: {small(low, units)} to {small(high, units)}."
        ),
    ]
    if clearance["allowed_for"]:
        lines.append(f"{small(clearance['allowed_for'], units)} is taken off for what gauges do not see.")
    answer = ANSWERS[decision["answer"]]
    whole = decision["whole"]
    by_figures = f" By the figures alone: {decision['by_figures']}." if found["blocks"] and whole else ""
    lines.append(f"{answer} by the rule {decision['rule']!r}: {decision['why']}.{by_figures}")
    likely = (
        sure(decision["probability"])
        if whole
        else "known when every place is measured and the part is finished"
    )
    lines.append(
        f"Probability of conformance at the worse of both places: {likely}."
        + _band(decision["band"], units, step)
    )
    return "\n".join(lines)


def place_text(place: Mapping[str, float | None], units: Units) -> str:
    """Where in the bore and on the shaft; a bore that was measured elsewhere has no place."""
    known = [(part, place[part]) for part in ("bore", "shaft") if place[part] is not None]
    return " on ".join(f"{part} {size(z, units, 1)}" for part, z in known)


def _band(left: Sequence[float] | None, units: Units, step: float | None) -> str:
    if left is None:
        return " No band is left after guarding: these gauges cannot prove this fit."
    low, high = small_band((left[0], left[1]), units, step)
    return f" Proven between {low} and {high}."


def part_text(part: str, row: Mapping[str, Any], units: Units) -> str:
    """The profile of a part."""
    stage = f", stage {row['stage']}" if row["stage"] else ""
    count = f"{row['readings']} {'reading' if row['readings'] == 1 else 'readings'}"
    head = f"{part.capitalize()}: {count} from {row['recording']}{stage}"
    if part == "shaft" and row["pass"]:
        head += f", after pass {row['pass']}"
    rows = [
        (
            size(each["z"], units, 1),
            size(each["mean"], units, step=row["step"]),
            small(each["u"], units),
            str(each["angles"]),
            small(each["ovality"], units, step=row["step"]),
        )
        for each in row["stations"]
    ]
    lines = [head, table(("station", "mean at 20 °C", "u", "angles", "ovality"), rows)]
    return "\n".join([*lines, *findings(row, units)])


def findings(row: Mapping[str, Any], units: Units) -> list[str]:
    """Taper, crown, bell mouth and extremes in sentences."""
    step = row["step"]
    low, high = (size(row[end]["value"], units, step=step) for end in ("smallest", "largest"))
    said = [
        (
            f"Smallest {low} at {size(row['smallest']['z'], units, 1)}, "
            f"largest {high} at {size(row['largest']['z'], units, 1)}."
        )
    ]
    taper = row["taper"]
    if taper is not None:
        clear = "" if taper["clear"] else ": not clear of its uncertainty, do not chase it"
        said.append(
            f"Taper {small(taper['taper'], units, signed=True, step=step)} "
            f"± {within(2 * taper['u_taper'], units, step)} "
            f"on diameter over {size(taper['span'], units, 1)}{clear}."
        )
    if row["shape"] is not None:
        said.append(
            f"Along it: {row['shape']} (middle {small(row['crown'], units, signed=True, step=step)} "
            f"± {within(2 * row['u_crown'], units, step)} over the chord)."
        )
    if row["bell_mouths"]:
        said.append(f"Bell mouth at the {' and the '.join(row['bell_mouths'])}.")
    return said + [f"{one[:1].upper()}{one[1:]}." for one in row["said"]]


def _stations(clearance: Mapping[str, Any], units: Units) -> str:
    step = clearance["step"]
    rows = [
        (
            size(each["bore"], units, 1),
            size(each["size"], units),
            small(each["least"], units, step=step),
            size(each["shaft_at_least"], units, 1),
            small(each["most"], units, step=step),
            small(each["u"], units),
        )
        for each in clearance["stations"]
    ]
    head = ("bore at", "bore", "least clearance", "on shaft", "most", "u")
    lines = ["Clearance at each station of the bore over the travel:", table(head, rows)]
    if clearance["positions"]:
        standing = [
            (
                size(each["offset"], units, 1),
                small(each["least"], units, step=step),
                small(each["most"], units, step=step),
            )
            for each in clearance["positions"]
        ]
        lines += ["And with the shaft standing at:", table(("offset", "least", "most"), standing)]
    return "\n".join(lines)


def _temperatures(rows: Sequence[Mapping[str, Any]], units: Units, step: float | None) -> str:
    cells = [
        (
            each["what"],
            f"{each['bore']:.1f} °C",
            f"{each['shaft']:.1f} °C",
            small(each["least"], units, step=step),
            small(each["u"], units),
        )
        for each in rows
    ]
    return table(("least clearance", "bore", "shaft", "is", "u"), cells)


def budget_text(rows: Sequence[Mapping[str, Any]], stated: Mapping[str, Any], units: Units) -> str:
    """The budget of the least clearance."""
    cells = [
        (
            each["name"],
            each["distribution"],
            cause_text(each, units),
            small(each["part"], units),
            f"{100 * each['share']:.0f} %",
            each["source"],
        )
        for each in rows
    ]
    head = ("least clearance: what is not known", "distribution", "u", "makes", "share", "from")
    total = (
        f"together u = {small(stated['u'], units)}, U = {small(stated['U'], units)} "
        f"(k = {stated['k']:.2f}, {100 * stated['coverage']:.0f} %)"
    )
    return table(head, cells) + "\n" + total


def cause_text(row: Mapping[str, Any], units: Units) -> str:
    """Standard uncertainty of a line of a budget, in the unit of its cause."""
    return cause(row["u"], row["unit"], units)


def _simulation(row: Mapping[str, Any] | None, units: Units) -> Iterator[str]:
    if row is None:
        yield "No simulation beside the law: it needs fit.engagement and the places of the stations."
        return
    yield (
        f"Monte Carlo of the same ({row['trials']} draws): least {small(row['least'], units)}, "
        f"u {small(row['u'], units)}; the law: {small(row['law_least'], units)}, "
        f"u {small(row['law_u'], units)}: {row['said']}."
    )


def _blind(row: Mapping[str, Any], units: Units) -> Iterator[str]:
    if row["margin"] <= 0:
        yield "Two-point gauges do not see odd lobes or a bent axis; there is no margin left for either."
    else:
        lobes, bow = row["odd_amplitude_that_breaks"], row["bow_that_breaks"]
        yield BLIND.format(lobes=small(lobes, units), bow=small(bow, units))


def _closes(kelvin: float) -> str:
    if kelvin <= 0:
        return ""
    return f"A shaft {kelvin:.1f} K warmer than the bore has no clearance left: never force it."


def before_text(row: Mapping[str, Any], units: Units) -> str:
    """What can be said before grinding."""
    bore = row["bore"]
    source = {
        "measured": "as measured",
        "sheet": "by the sheet",
        "nominal": "NOT MEASURED: the nominal size is assumed",
    }[bore["from"]]
    low, high = row["limits"]
    lines = [
        (
            f"Before grinding: bore {size(bore['size'], units)} ({source}); shaft to aim at "
            f"{size(row['aim'], units)}, limits {size(low, units)} to {size(high, units)}."
        )
    ]
    lines += [f"Warning: {one}." for one in row["cannot"]]
    lines += [_pair(each, units) for each in row["pairs"]]
    lines += [
        f"{each['gauge']} by its certificate, the other part taken as known exactly: {each['could']}."
        for each in row["gauges"]
    ]
    return "\n".join(lines)


def _pair(each: Mapping[str, Any], units: Units) -> str:
    if each["band"] is None:
        due = (
            ""
            if each["limits_due"] is None
            else f"; a gauge with limits of {small(each['limits_due'], units)} could"
        )
        return f"With {each['gauge']}: {each['said']}{due}."
    low, high = band(each["shaft"], units, each["step"])
    return (
        f"With {each['gauge']} u of the clearance is {small(each['u'], units)}: after guarding, "
        f"{low} to {high} is left for the shaft: {each['said']}."
    )


def orientation_text(rows: Sequence[Mapping[str, Any]], units: Units) -> str:
    """Standard fits beside this one: the closest running ones, and those that it would lie in."""
    rows = [each for each in rows if each["name"] in CLOSEST or each["contains"]]
    if not rows:
        return ""
    cells = [
        (
            f"{each['standard']} {each['name']}",
            small(each["least"], units, signed=True),
            small(each["most"], units, signed=True),
            {True: "lies in it", False: "", None: ""}[each["contains"]],
        )
        for each in rows
    ]
    return "For orientation, never to judge by:\n" + table(("standard fit", "least", "most", ""), cells)
