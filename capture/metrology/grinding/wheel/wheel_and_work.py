"""Surface speeds, speed ratio, overlap and depth of a pass, each beside what is usual for the material.

``v = pi d n`` for wheel and work; the speed ratio is ``v_wheel / v_work``; in one work revolution the table
moves ``f = v_table / n_work`` and the overlap is the wheel's width over f. Rows of steel are Machinery's
Handbook, 31st edition, p. 1318, Table 3; what has no published row here says so.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

from msgspec import Struct

from capture.metrology.cautions import Basis
from capture.metrology.grinding.wheel.grinding_data import (
    HARD_CHROME,
    MM_PER_FOOT,
    Traverse,
    surface_speed,
    table_speed,
    traverse,
)
from capture.metrology.units import MM_PER_INCH

Material: TypeAlias = Literal["steel, hardened", "steel, soft", "cast iron", "hard chrome"]
Cut: TypeAlias = Literal["rough", "finish"]
_HANDBOOK = "Machinery's Handbook, 31st edition, p. 1318, Table 3"
_MEMORY: Basis = "from memory"
_PRACTICE: Basis = "common practice, no source"
EDGE = 1e-6
"""Relative slack of a limit: what was worked out from it is within it."""
TOO_FAST = 1.0 + 1e-9


class UsualRange(Struct, frozen=True):
    """What is usual of one figure; None is open."""

    low: float | None
    high: float | None
    source: str
    basis: Basis


class WheelKind(Struct, frozen=True):
    """A wheel to begin with, in the standard's marking (ISO 525, ANSI B74.13); common practice, no source."""

    marking: str
    why: str


class CutData(Struct, frozen=True):
    """What is usual when one material is cut; speeds m/s and m/min, depth mm on diameter a pass."""

    wheel_speed: UsualRange
    work_speed: UsualRange
    depth: dict[Cut, UsualRange]
    overlap: dict[Cut, UsualRange]
    wheel: WheelKind


WHEEL_SPEED = UsualRange(
    5500 * MM_PER_FOOT / 60e3,
    6500 * MM_PER_FOOT / 60e3,
    "Machinery's Handbook, 31st edition, p. 1329: 5500 to 6500 ft/min",
    "published",
)
SPEED_RATIO = UsualRange(60.0, 120.0, "wheel over work, against chatter and burn", _MEMORY)
DRESS_LEAD: dict[Cut, UsualRange] = {
    "rough": UsualRange(0.10, 0.30, "travel in one wheel revolution, open face", _PRACTICE),
    "finish": UsualRange(0.03, 0.10, "travel in one wheel revolution, fine face", _PRACTICE),
}
LONGEST_OVER_DIAMETER = 10.0
"""Length between centres over diameter from which a steady rest is usual (common practice, no source)."""


def _published(row: Traverse, work: float, wheel: WheelKind) -> CutData:
    """A row of the handbook: its one work speed with a fifth to either side, its infeeds and fractions."""
    speed = row.work_speed * MM_PER_FOOT / 1e3
    finish = row.finish[1] * MM_PER_INCH
    return CutData(
        WHEEL_SPEED,
        UsualRange(
            (1 - work) * speed,
            (1 + work) * speed,
            f"{row.source}: {row.work_speed:g} ft/min, a fifth more or less",
            "published",
        ),
        {
            "rough": UsualRange(
                None, row.rough * MM_PER_INCH, f"{row.source}: {row.rough:g} in", "published"
            ),
            "finish": UsualRange(None, finish, f"{row.source}: {row.finish[1]:g} in", "published"),
        },
        {
            "rough": UsualRange(
                1 / row.rough_fraction, None, f"{row.source}: share of the width", "published"
            ),
            "finish": UsualRange(
                1 / row.finish_fraction, None, f"{row.source}: share of the width", "published"
            ),
        },
        wheel,
    )


def _practice(work: tuple[float, float], rough: float, finish: float, wheel: WheelKind) -> CutData:
    """No published row was found for this material."""
    return CutData(
        WHEEL_SPEED,
        UsualRange(*work, "no row in the handbook's table", _PRACTICE),
        {
            "rough": UsualRange(None, rough, "no row in the handbook's table", _PRACTICE),
            "finish": UsualRange(None, finish, "no row in the handbook's table", _PRACTICE),
        },
        {
            "rough": UsualRange(4.0, None, "as hardened steel", _PRACTICE),
            "finish": UsualRange(8.0, None, "as hardened steel", _PRACTICE),
        },
        wheel,
    )


DATA: dict[Material, CutData] = {
    "steel, hardened": _published(
        traverse("alloy steel, hardened"),
        0.2,
        WheelKind("A 60 K 8 V", "aluminium oxide, medium grain, rather soft"),
    ),
    "steel, soft": _published(
        traverse("alloy steel, annealed"),
        0.2,
        WheelKind("A 54 M 6 V", "aluminium oxide, a grade harder for soft steel"),
    ),
    "cast iron": _practice(
        (18.0, 30.0), 0.05, 0.013, WheelKind("C 46 J 7 V", "silicon carbide for cast iron")
    ),
    "hard chrome": _practice(
        (15.0, 25.0),
        HARD_CHROME.deepest_pass,
        HARD_CHROME.deepest_pass / 2.0,
        WheelKind(
            "A 80 J 8 V",
            f"{HARD_CHROME.wheel_grades[0]} to {HARD_CHROME.wheel_grades[1]}, grain "
            f"{HARD_CHROME.grit[0]} to {HARD_CHROME.grit[1]}, {HARD_CHROME.coolant} coolant",
        ),
    ),
}


class WheelAndWork(Struct, frozen=True):
    """What is set at the machine, mm and 1/min; None is not known."""

    wheel_diameter: float | None = None
    wheel_width: float | None = None
    wheel_rpm: float | None = None
    marked_speed: float | None = None
    """m/s, printed on the wheel."""
    marked_rpm: float | None = None
    work_diameter: float | None = None
    work_rpm: float | None = None
    traverse: float | None = None
    """mm a minute."""
    infeed: float | None = None
    """mm on diameter, of a pass."""
    dress_lead: float | None = None
    """mm in one wheel revolution."""


class JudgedFigure(Struct, frozen=True):
    """One figure beside what is usual."""

    name: str
    value: float | None
    unit: str
    usual: UsualRange | None

    @property
    def verdict(self) -> Literal["usual", "under", "over", "not known", ""]:
        """How it stands to what is usual; empty where there is nothing usual."""
        if self.usual is None:
            return ""
        if self.value is None:
            return "not known"
        if self.usual.low is not None and self.value < self.usual.low * (1 - EDGE):
            return "under"
        if self.usual.high is not None and self.value > self.usual.high * (1 + EDGE):
            return "over"
        return "usual"


def wheel_speed_of(diameter: float, rpm: float) -> float:
    """Surface speed of a wheel, m/s, of *diameter* mm."""
    return surface_speed(diameter, rpm) / 60e3


def too_fast(setting: WheelAndWork) -> float | None:
    """How many times its printed limit the wheel runs; None where it does not, or the sheet does not say.

    The printed speed rules, in m/s or in revolutions a minute (29 CFR 1910.215(d), ANSI B7.1; from memory).
    """
    times = []
    if setting.wheel_rpm is not None and setting.marked_rpm is not None:
        times.append(setting.wheel_rpm / setting.marked_rpm)
    if None not in (setting.wheel_rpm, setting.marked_speed, setting.wheel_diameter):
        speed = wheel_speed_of(setting.wheel_diameter or 0.0, setting.wheel_rpm or 0.0)
        times.append(speed / (setting.marked_speed or 1.0))
    worst = max(times, default=0.0)
    return worst if worst > TOO_FAST else None


def judged(setting: WheelAndWork, material: Material, cut: Cut) -> tuple[JudgedFigure, ...]:
    """Every figure of *setting* beside what is usual for *material*."""
    data = DATA[material]
    wheel = _times(setting.wheel_diameter, setting.wheel_rpm, 60e3)
    work = _times(setting.work_diameter, setting.work_rpm, 1e3)
    lead = None if not setting.traverse or not setting.work_rpm else setting.traverse / setting.work_rpm
    overlap = None if lead is None or setting.wheel_width is None else setting.wheel_width / lead
    return (
        JudgedFigure("wheel speed", wheel, "m/s", data.wheel_speed),
        JudgedFigure("work speed", work, "m/min", data.work_speed),
        JudgedFigure("speed ratio", 60.0 * wheel / work if wheel and work else None, "1", SPEED_RATIO),
        JudgedFigure("table travel in a work revolution", lead, "mm", None),
        JudgedFigure("overlap", overlap, "1", data.overlap[cut]),
        JudgedFigure("infeed of a pass", setting.infeed, "mm", data.depth[cut]),
        JudgedFigure("dressing lead", setting.dress_lead, "mm", DRESS_LEAD[cut]),
    )


def usual_settings(setting: WheelAndWork, material: Material, cut: Cut) -> dict[str, float | None]:
    """What to set for the middle of what is usual: work 1/min, and the fastest table, mm a minute."""
    data = DATA[material]
    low, high = data.work_speed.low or 0.0, data.work_speed.high or 0.0
    turns = (
        None
        if not setting.work_diameter
        else (low + high) / 2.0 * 1e3 / surface_speed(setting.work_diameter, 1.0)
    )
    least = data.overlap[cut].low or 1.0
    running = setting.work_rpm or turns
    table = (
        None
        if running is None or setting.wheel_width is None
        else table_speed(setting.wheel_width, 1 / least, running)
    )
    return {"work_rpm": turns, "table_speed_most": table}


def _times(diameter: float | None, rpm: float | None, over: float) -> float | None:
    return None if diameter is None or rpm is None else surface_speed(diameter, rpm) / over
