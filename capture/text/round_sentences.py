"""What is said of a part that turns under gauges: its lobes, what cannot be seen, and why."""

from __future__ import annotations

from typing import Final

ROUND_SENTENCES: Final[dict[str, str]] = {
    "round.none": "{gauge}: {why}",
    "round.averaging": (
        "a gauge that averages between its readings shows lobes from {first:.0f} up more than a tenth "
        "too small: "
        "turn the part more slowly, or set form.averages"
    ),
    "round.typed": (
        "read at {angles:.0f} angles: lobes above {order:.0f} are not distinguished, and are in those that "
        "are shown"
    ),
    "round.unseen": "lobes not seen by this set-up: {lobes}",
    "round.and": "{first}; {second}",
    "round.contacts": "{lobes} (the contacts pass them by)",
    "round.angles": "{lobes} (too few angles or turns for them)",
    "round.slow": "{lobes} (the gauge is too slow for them at this speed)",
    "round.noise": "{lobes} (lost in the noise)",
    "round.would-see": "a V of {v:.0f}° with the indicator opposite would show {lobes}",
    "round.all-seen": "every lobe count from 2 to 15 is seen",
    "round.axis-in": (
        "the run-out of the centres is in these lobes: a V, two more indicators round the part, or a "
        "second run "
        "with the part and the indicator turned by 180° (turned=180, GAUGE@180) takes it out"
    ),
    "round.dead-centres": (
        "turning the part in its dog takes the movement of a live centre out; between dead centres what "
        "the part's "
        "own centre holes do turns with the part: there use a V or three indicators"
    ),
    "round.no-phase": "no mark was given: tops of lobes have no angle on the part",
    "round.apart": "runs began at different angles: the lobes are added up, which is the most that "
    "they can make",
    "odd.measured": (
        "{part}: odd lobes of {odd} ± {u} amplitude, measured at {z}, are taken off the clearance in place "
        "of a setting"
    ),
    "odd.unseen": "{part}: lobes {lobes} were not seen when it turned under a gauge: they may be there",
    "odd.gone": (
        "{part}: its roundness was measured in another stage or before the newest pass, and counts for "
        "nothing here"
    ),
    "round.beyond": (
        "lobes above 15 are not looked for; roughness and the tip's radius are in the scatter of a reading"
    ),
}
