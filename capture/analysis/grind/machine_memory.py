"""The machine remembered: what earlier jobs showed of a grinder and its wheel, in a file for people to read.

One table a machine and wheel, TOML, lengths in millimetres. What a job showed is weighed with what was
remembered by their uncertainties; a memory never gets surer than machines stay the same. Text in, text
out: who reads and writes the file is the command.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from math import log, sqrt
from typing import Any

from msgspec import Struct, structs

from capture.sheet.faults import shown as as_came
from capture.sheet.job import Known, Units
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from capture.text.lengths import percent, small
from capture.toml_text import BadToml, parse_toml

DRIFT_SHARE = 0.05
"""Standard deviation by which a share differs from job to job, whatever is known: dressing, part, coolant
(an engineering estimate, no source)."""
DRIFT_OBEYS = 0.05
DRIFT_GAIN = 0.01
DRIFT_SCATTER = 0.25
"""Standard deviation of the logarithm of a gauge's scatter from job to job: hands, dirt, draughts (an
engineering estimate, no source)."""
TELLING = 0.03
"""Standard uncertainty of what a diameter gets of an infeed under which a job has shown it: beforehand it is
0.035, so that a job that showed nothing teaches nothing."""
APART = 2.0
"""Standard uncertainties from which on a job is said not to agree with what is remembered."""
FINDINGS = {
    "share": "a pass takes {} of what is to come",
    "obeys": "the table does {} of what its indicator shows",
    "gain": "a diameter gets {} of an infeed, the rest is wheel wear and dial",
    "scatter": "readings scatter {}",
    "heat": "a part gets warm with a chance of {}",
}
"""What is said of a machine."""
HEADER = """\
# What this workshop's grinders showed, job by job; lengths in millimetres.
# A table may be corrected or taken out by hand: the next job begins with what stands here.
"""


class BadMemory(Exception):
    """A file that can't be read as a memory: where, what came, what was due."""


class Agreement(Struct, frozen=True):
    """How far a job agrees with what was remembered."""

    what: str
    job: float
    remembered: float
    apart: float
    """In standard uncertainties of the difference."""


def key_of(name: str, wheel: str) -> str:
    """The table's name of a machine with a wheel.

    >>> key_of("cylindrical 2", "60 J"), key_of("", "")
    ('cylindrical 2 / 60 J', 'grinder')
    """
    return " / ".join(part for part in (name, wheel) if part) or "grinder"


def memories_of(text: str, name: str) -> dict[str, Known]:
    """Every machine in the *text* of a file called *name*.

    Raises:
        BadMemory: It is no TOML, or a table holds something else than numbers of a machine.
    """
    try:
        plain = parse_toml(text)
    except BadToml as error:
        raise BadMemory(f"{name}: not TOML: {error}") from None
    return {key: _known(f"{name}: {key}", value) for key, value in plain.items()}


def text_of(memories: Mapping[str, Known]) -> str:
    """The whole file.

    >>> print(text_of({"grinder": Known(share=0.52, u_share=0.03, jobs=2)}).splitlines()[-4:])
    ['["grinder"]', 'share = 0.52', 'u_share = 0.03', 'jobs = 2']
    """
    lines = [HEADER.rstrip()]
    for key, known in sorted(memories.items()):
        # JSON's strings are TOML's, but for one character
        quoted = json.dumps(key, ensure_ascii=False).replace("\x7f", "\\u007f")
        lines += ["", f"[{quoted}]"]
        fields = structs.asdict(known).items()
        lines += [f"{field} = {_figure(value)}" for field, value in fields if value is not None]
    return "\n".join(lines) + "\n"


def learnt(before: Known | None, job: Known) -> Known:
    """What to remember after a job that showed *job*.

    >>> found = learnt(Known(share=0.50, u_share=0.05, jobs=1), Known(share=0.60, u_share=0.05))
    >>> round(found.share, 3), found.jobs
    (0.55, 2)
    """
    before = before or Known()
    share, u_share = _weighed(before.share, before.u_share, job.share, job.u_share, DRIFT_SHARE)
    obeys, u_obeys = _weighed(before.obeys, before.u_obeys, job.obeys, job.u_obeys, DRIFT_OBEYS)
    gain, u_gain = _weighed(before.gain, before.u_gain, job.gain, job.u_gain, DRIFT_GAIN)
    return Known(
        share=share,
        u_share=u_share,
        gain=gain,
        u_gain=u_gain,
        scatter=_mean(before.scatter, before.jobs, job.scatter),
        obeys=obeys,
        u_obeys=u_obeys,
        heat=_mean(before.heat, before.jobs, job.heat),
        jobs=before.jobs + 1,
    )


def shown(state: State) -> Known | None:
    """What a job showed of its machine; None where no pass was judged by the model."""
    outlooks = [row.outlook for row in state.grind.passes]
    judged = [
        o
        for o in outlooks
        if o is not None and o.method == "model" and o.share is not None and o.u_share is not None
    ]
    if not judged:
        return None
    # the fresh wheel's bite: the best known of the first half, before it could glaze
    early = judged[: max(1, len(judged) // 2 + 1)]
    best = min(early, key=lambda outlook: outlook.u_share or 1.0)
    coaching = state.grind.coaching
    table = None if coaching is None else coaching.table
    turned = table is not None and table.turns > 0
    gain, u_gain = (None, None) if coaching is None else (coaching.gain, coaching.u_gain)
    worn = u_gain is not None and u_gain < TELLING
    return Known(
        share=best.share,
        u_share=best.u_share,
        gain=gain if worn else None,
        u_gain=u_gain if worn else None,
        scatter=judged[-1].sigma,
        obeys=table.obeys if table is not None and turned else None,
        u_obeys=table.u_obeys if table is not None and turned else None,
        heat=_warmed(state.grind.passes, state.job.settings.warm.limit),
        jobs=1,
    )


def _warmed(rows: list[PassRow], limit: float) -> float | None:
    """Whether the part got warm while it was ground: seen by a probe, else how likely the sizes make it."""
    seen = [row.growth for row in rows if row.evidence is not None and not row.assumed]
    if seen:
        return float(max(seen) - seen[0] > limit)
    chances = [row.outlook.p_heat for row in rows if row.outlook is not None]
    return next((chance for chance in reversed(chances) if chance is not None), None)


def agreement(before: Known, job: Known) -> tuple[Agreement, ...]:
    """How far *job* agrees with what was remembered."""
    pairs = (
        ("share", job.share, job.u_share, before.share, before.u_share, DRIFT_SHARE),
        ("obeys", job.obeys, job.u_obeys, before.obeys, before.u_obeys, DRIFT_OBEYS),
        ("gain", job.gain, job.u_gain, before.gain, before.u_gain, DRIFT_GAIN),
    )
    found = [
        Agreement(what, new, old, abs(new - old) / sqrt((u_new or 0.1) ** 2 + (u_old or 0.1) ** 2 + drift**2))
        for what, new, u_new, old, u_old, drift in pairs
        if new is not None and old is not None
    ]
    if job.scatter and before.scatter:
        # each job's own scatter is known as well as a dozen readings tell it
        apart = abs(log(job.scatter / before.scatter)) / (sqrt(2.0) * DRIFT_SCATTER)
        found.append(Agreement("scatter", job.scatter, before.scatter, apart))
    if job.heat is not None and before.heat is not None:
        # what one job can say of a chance: how far the event was from what was to be expected
        found.append(Agreement("heat", job.heat, before.heat, _odd(job.heat, before.heat, before.jobs)))
    return tuple(found)


def _odd(event: float, chance: float, jobs: int) -> float:
    """Standard deviations of one more event from a chance seen over so many jobs and two thrown in."""
    chance = (chance * jobs + 1.0) / (jobs + 2.0)
    return abs(event - chance) / sqrt(chance * (1.0 - chance))


def agreed(one: Agreement, units: Units = "mm") -> str:
    """What a job showed beside what is remembered, in words.

    >>> agreed(Agreement("share", 0.52, 0.5, 0.4))
    'a pass takes 52 % of what is to come (earlier jobs 50 %: agrees)'
    """
    says = "agrees" if one.apart <= APART else "DOES NOT AGREE"
    job, before = (
        small(value, units) if one.what == "scatter" else percent(value)
        for value in (one.job, one.remembered)
    )
    return f"{FINDINGS[one.what].format(job)} (earlier jobs {before}: {says})"


def with_memory(plain: Mapping[str, Any], memories: Mapping[str, Known]) -> dict[str, Any]:
    """A job sheet, as it was written, with what is remembered of its machine beside what it says.

    It goes into the recording's header, so that a replay knows what the job knew.
    """
    grinder = plain.get("grinder")
    if not isinstance(grinder, dict) or "known" in grinder:
        return dict(plain)
    known = memories.get(key_of(str(grinder.get("name", "")), str(grinder.get("wheel", ""))))
    if known is None:
        return dict(plain)
    fields = {key: value for key, value in structs.asdict(known).items() if value is not None}
    return {**plain, "grinder": {**grinder, "known": fields}}


def _weighed(
    old: float | None, u_old: float | None, new: float | None, u_new: float | None, drift: float
) -> tuple[float | None, float | None]:
    """Mean by inverse variances; as sure as what differs from job to job lets it be."""
    if new is None:
        return old, u_old
    if old is None:
        return new, sqrt((u_new or drift) ** 2 + drift**2)
    w_old, w_new = 1.0 / (u_old or drift) ** 2, 1.0 / ((u_new or drift) ** 2)
    mean = (w_old * old + w_new * new) / (w_old + w_new)
    return mean, max(sqrt(1.0 / (w_old + w_new)), drift / 2.0)


def _mean(old: float | None, jobs: int, new: float | None) -> float | None:
    """Mean over the jobs, each counting the same."""
    if old is None or new is None:
        return new if old is None else old
    return (old * jobs + new) / (jobs + 1)


def _known(where: str, value: object) -> Known:
    if not isinstance(value, dict):
        raise BadMemory(f"{where}: came {as_came(value)}, due a table of what is known of a machine")
    fields = Known.__struct_fields__
    for key, figure in value.items():
        if key not in fields:
            raise BadMemory(f"{where}.{key}: no such key, due one of {', '.join(fields)}")
        number = isinstance(figure, int | float) and not isinstance(figure, bool)
        if not number or not 0.0 <= figure < 1e6:
            raise BadMemory(f"{where}.{key}: came {as_came(figure)}, due a number of at least 0")
    return Known(**{**value, "jobs": int(value.get("jobs", 0))})


def _figure(value: float) -> str:
    return str(value) if isinstance(value, int) else f"{value:.6g}"
