"""Roundness as text for a terminal, in the job's own units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from capture.report.terminal.tables import table
from capture.sheet.job import Units
from capture.text.lengths import place, small

FROM = {
    "mark": "by its mark",
    "typed": "at angles that were given",
    "speed": "by a speed found in the readings",
}
WHY = {"contacts": "contacts", "angles": "angles", "slow": "gauge too slow", "noise": "noise"}


def roundness_text(rows: Sequence[Mapping[str, Any]], units: Units) -> str:
    """What `capture.analysis.roundness.roundness_findings.roundness_rows` found, as a person reads it."""
    if not rows:
        return (
            "No part turned under a gauge in this recording. Say round shaft 140 v90 DIAL, let the part "
            "turn ten "
            "times, then say round done."
        )
    return "\n\n".join("\n".join(_place(row, units)) for row in rows)


def setup_text(setup: Mapping[str, Any]) -> str:
    """How a gauge and the part stood.

    >>> setup_text({"contacts": "v", "angle": 90.0, "offset": 0.0, "at": 0.0, "turned": 0.0})
    'V of 90°'
    """
    names = {"v": "V of {:g}°", "saddle": "riding V of {:g}°", "centres": "centres"}
    line = str(names.get(setup["contacts"], setup["contacts"])).format(setup["angle"])
    for key, word in (("offset", "indicator off by"), ("at", "indicator at"), ("turned", "part turned by")):
        line += f", {word} {setup[key]:g}°" if setup[key] else ""
    return line


def _place(row: Mapping[str, Any], units: Units) -> Iterator[str]:
    stage = f", {row['stage']}" if row["stage"] else ""
    after = f", after pass {row['pass']}" if row["pass"] else ""
    yield f"{row['part'].capitalize()} at {place(row['z'], units)}{stage}{after}"
    for run in row["runs"]:
        yield run_text(run, units)
    if row["roundness"] is not None:
        yield (
            f"Roundness by lobes 2 to 15: {small(row['roundness'], units, 2)} ± "
            f"{small(2 * row['u_roundness'], units, 2)} (peak to valley, k = 2). Odd lobes, amplitude: "
            f"{small(row['odd'], units, 2)} ± {small(2 * row['u_odd'], units, 2)}."
        )
    out = row["run_out"]
    if out is not None:
        where = "" if out["angle"] is None else f", high at {out['angle']:.0f}° from the mark"
        yield f"Run-out between centres: {small(out['full'], units)} full indicator movement{where}."
    if row["runs"]:
        yield _table(row, units)
    yield from (f"{one[0].upper()}{one[1:]}." for one in row["said"])


def run_text(run: Mapping[str, Any], units: Units) -> str:
    """One gauge in one run: set-up, readings, turns, how the angle was known, scatter."""
    line = f"{run['gauge']}, {setup_text(run['setup'])}: {run['readings']} readings"
    if run["turns"] is not None:
        speed = f"{run['rpm']:.2f} ± {2 * run['u_rpm']:.2f} rpm"
        line += f", {run['turns']:.1f} turns at {speed}"
    line += f", {FROM[run['angle_from']]}"
    if run["left_out"]:
        line += f"; {run['left_out']} left out"
    if run["masks"]:
        line += ", masked " + ", ".join(f"{start:.0f}–{stop:.0f}°" for start, stop in run["masks"])
    return line + f"; scatter {small(run['spread'], units)}."


def _table(row: Mapping[str, Any], units: Units) -> str:
    lines = [
        [
            str(one["lobes"]),
            "–" if one["amplitude"] is None else small(one["amplitude"], units, 2),
            "–" if one["u"] is None else small(2 * one["u"], units, 2),
            "–" if one["phase"] is None else f"{one['phase']:.0f}°",
            f"{one['factor']:.2f}",
            WHY[one["unseen"]] if one["unseen"] else "yes" if one["clear"] else "none clear",
        ]
        for one in row["lobes"]
    ]
    return table(["lobes", "amplitude", "± (k = 2)", "top at", "factor", "seen"], lines)
