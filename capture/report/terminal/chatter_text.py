"""Chatter as text for a terminal: frequencies, lobes, the likely cause, what to change, and every alias."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from capture.sheet.job import Units
from capture.text.lengths import small

NAMES = {
    "centres": "run-out of the centres or of the work, once a turn of it",
    "lobes": "lobes of the work itself",
    "wheel": "wheel out of balance or out of true",
    "wheel twice": "wheel, twice a turn: its flange, bearing or drive",
    "drive": "drive",
    "regeneration": "self-excited chatter: regeneration on work or wheel",
}
CHANGES = {
    "centres": "clean and lap the centres, look at the dog, measure the run-out (round … centres)",
    "lobes": "look for what made them: change the work speed, and measure again which count comes",
    "wheel": "balance the wheel and dress it; change its speed a little: the tone goes with it",
    "wheel twice": "look at flange, bearings and belt of the wheel spindle",
    "drive": "look at its belt, bearings and mounting; stop it for a moment where that is safe",
    "regeneration": "work slower, a softer or freshly dressed wheel, less width in cut, a steady rest",
}
SURE = 0.5


def chatter_text(found: Mapping[str, Any], units: Units) -> str:
    """What `capture.analysis.grind.chatter_findings` found, as a person reads it."""
    rate = found["rate"]
    head = (
        f"{found['gauge']}, {rate:.1f} readings a second: what is faster than {rate / 2:.1f} Hz shows as "
        "something slower."
    )
    if not found["tones"]:
        return f"{head}\nNo frequency stands clear of the noise."
    return "\n".join([head, *(line for tone in found["tones"] for line in _tone(tone, units))])


def _tone(tone: Mapping[str, Any], units: Units) -> Iterator[str]:
    amplitude = small(tone["amplitude"], units, 2)
    yield f"\n{tone['frequency']:.3f} ± {2 * tone['u']:.3f} Hz, amplitude {amplitude}"
    aliases = tone["aliases"]
    if aliases:
        first = ", ".join(f"{one:.2f}" for one in aliases[:12])
        more = f" and {len(aliases) - 12} more up to {aliases[-1]:.0f}" if len(aliases) > 12 else ""
        yield f"  may also be an alias of {first}{more} Hz: the gauge is too slow to tell them apart"
    best = tone["causes"][0]
    if best["probability"] >= SURE:
        yield f"  likely {_cause(best)}"
        yield f"  change: {CHANGES[best['kind']]}"
    else:
        yield "  not distinguished: " + "; ".join(_cause(one) for one in tone["causes"][:3])
        yield "  change the work speed by a tenth and look again: what stays is wheel or drive"


def _cause(one: Mapping[str, Any]) -> str:
    lobes = "" if one["lobes"] is None else f", {one['lobes']:.1f} waves in a turn of the work"
    own = "" if one["kind"] == "regeneration" else f", at {one['frequency']:.2f} Hz"
    name = f": {one['name']}" if one["name"] else ""
    return f"{NAMES[one['kind']]}{name} ({100 * one['probability']:.0f} %{own}{lobes})"
