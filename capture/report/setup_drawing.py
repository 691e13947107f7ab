"""The set-up at the grinder as a drawing: part, stations, swivel pivot, and where its indicator stands.

Every text in it is a number or our own word, never a user's.
"""

from __future__ import annotations

from capture.sheet.job import Job, Units
from capture.text.lengths import place

WIDTH, HEIGHT, MARGIN, AXIS = 720.0, 210.0, 60.0, 110.0
STYLE = (
    "text{font:13px Inter,system-ui,sans-serif;fill:currentColor}"
    ".part{fill:none;stroke:currentColor;stroke-width:2}"
    ".axis{stroke:currentColor;stroke-dasharray:10 4 2 4}.at{stroke:currentColor;stroke-width:3}"
    ".mark{stroke:currentColor;stroke-width:2;fill:none}.wheel{stroke:currentColor;stroke-width:5}"
)


def setup_drawing(job: Job, units: Units) -> str:
    """SVG of the table from above, wheel at the top; "" where the sheet has no swivel.

    The axis is that of the stations: 0 is the part's datum end, at the headstock.
    """
    swivel = None if job.grinder is None else job.grinder.swivel
    if swivel is None:
        return ""
    stations = job.shaft.stations if job.shaft is not None else ()
    length = None if job.work is None else job.work.between_centres
    end = length if length is not None else max(stations, default=0.0)
    low, high = min(0.0, swivel.pivot, swivel.reading_at), max(end, swivel.pivot, swivel.reading_at)

    def x(z: float) -> float:
        return MARGIN + (z - low) / (high - low) * (WIDTH - 2 * MARGIN)

    wide = max(x(end) - x(0), 2.0)
    drawn = [
        f'<rect x="{x(0):.1f}" y="{AXIS - 12}" width="{wide:.1f}" height="24" class="part"/>',
        f'<line x1="{x(low):.1f}" x2="{x(high):.1f}" y1="{AXIS}" y2="{AXIS}" class="axis"/>',
        _text(x(0), AXIS + 30, "headstock, 0"),
        *(
            f'<line x1="{x(z):.1f}" x2="{x(z):.1f}" y1="{AXIS - 16}" y2="{AXIS + 16}" class="at"/>'
            for z in stations
        ),
        *_pivot(x(swivel.pivot), place(swivel.pivot, units)),
        *_indicator(x(swivel.reading_at), place(swivel.reading_at, units), swivel.toward_wheel),
        _text(WIDTH / 2, 16, "wheel on this side"),
        f'<line x1="{MARGIN}" x2="{WIDTH - MARGIN}" y1="24" y2="24" class="wheel"/>',
    ]
    if end > 0:
        drawn.append(_text(x(end), AXIS + 30, f"tailstock end, {place(end, units)}"))
    title = f"<title>{drawing_text(job, units)}</title><style>{STYLE}</style>"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" color="#111" '
        f'style="background:#fff">{title}{"".join(drawn)}</svg>'
    )


def drawing_text(job: Job, units: Units) -> str:
    """The same in words, for who does not see it."""
    swivel = None if job.grinder is None else job.grinder.swivel
    if swivel is None:
        return ""
    side = "toward the wheel" if swivel.toward_wheel == "+" else "away from the wheel"
    return (
        f"Pivot at {place(swivel.pivot, units)}, indicator at {place(swivel.reading_at, units)} from "
        f"the datum end "
        f"at the headstock; its reading grows {side}."
    )


def _pivot(x: float, at: str) -> list[str]:
    return [
        f'<circle cx="{x:.1f}" cy="{AXIS}" r="8" class="mark"/>',
        f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{AXIS - 26}" y2="{AXIS + 26}" class="mark"/>',
        _text(x, AXIS + 60, f"swivel pivot, {at}"),
    ]


def _indicator(x: float, at: str, toward: str) -> list[str]:
    """The indicator touches the table; the arrow is the way in which it reads more."""
    tip, tail = (AXIS - 66.0, AXIS - 24.0) if toward == "+" else (AXIS - 24.0, AXIS - 66.0)
    barb = tip + (8.0 if tip < tail else -8.0)
    return [
        f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{tail}" y2="{tip}" class="mark"/>',
        f'<polyline points="{x - 6:.1f},{barb} {x:.1f},{tip} {x + 6:.1f},{barb}" class="mark"/>',
        _text(x, AXIS + 82, f"indicator, {at}: + is this way"),
    ]


def _text(x: float, y: float, text: str) -> str:
    anchor = "start" if x < WIDTH * 0.2 else "end" if x > WIDTH * 0.8 else "middle"
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{text}</text>'
