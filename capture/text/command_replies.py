"""What was understood of a person's words, said back to them."""

from __future__ import annotations

from capture.events import (
    AnyFact,
    Checked,
    Clamp,
    Confirmation,
    Coolant,
    Dress,
    Lap,
    Mask,
    Master,
    Note,
    Pass,
    Pause,
    Picture,
    Reading,
    Reject,
    Round,
    RoundEnd,
    RunOut,
    Stage,
    Station,
    Table,
    Taken,
    Tried,
    TurnMark,
)
from capture.sheet.job import Job, Units
from capture.text import lengths

TAKEN_BACK = "taken back: "
"""How the reason of an undo begins; what was taken back follows."""


def said(fact: AnyFact, job: Job) -> str:
    """What was understood, in a person's words and units."""
    match fact:
        case Pass() as made:
            return _said_of_pass(made, job)
        case Station(part=part, z=z, angle=angle):
            return f"{part} at {lengths.place(z, job.units)}, {angle:g}°"
        case Stage(name=name):
            return f"stage {name}"
        case Master(gauge=gauge, size=size):
            parts = lengths.size(size, job.units)
            return f"{gauge} is on the master of {parts}: take readings, then say station"
        case Reject(why=why, undo=undo):
            return why if undo else f"set aside: {why}"
        case Taken() | Reading(unit="mm"):
            return _said_of_reading(fact, job)
        case Confirmation(yes=yes):
            return "yes" if yes else "no: it is taken back"
        case Note(text=text):
            return f"noted: {text}"
        case Pause() | Lap() | Table() | Dress() | Coolant():
            return _said_of_work(fact, job)
        case _:
            return _said_of_step(fact, job)


def _said_of_reading(fact: Taken | Reading, job: Job) -> str:
    if isinstance(fact, Reading):
        return f"read: {lengths.size(fact.value, job.units)}"
    where = f" at {lengths.place(fact.z, job.units)}" if fact.z is not None else ""
    return f"the reading of the {fact.part}{where}, {lengths.size(fact.value, job.units)}"


def _said_of_pass(made: Pass, job: Job) -> str:
    """The passes, and whether they are those that are known already."""
    infeed = "not known" if made.infeed is None else f"{lengths.size(made.infeed, job.units)} on diameter"
    parts = "pass" if made.times == 1 else f"{made.times} passes"
    parts += f", infeed {infeed}" + (" each" if made.times > 1 else "")
    if made.rests:
        parts += f", then {made.rests} without infeed"
    return parts if made.of is None else f"{parts}: known already"


def _said_of_work(fact: Pause | Lap | Table | Dress | Coolant, job: Job) -> str:
    match fact:
        case Pause(on=on):
            return "paused: nothing is taken until you say go" if on else "going on"
        case Lap(strokes=strokes, minutes=minutes):
            parts = [f"{strokes:g} strokes"] if strokes is not None else []
            parts += [f"{minutes:g} minutes"] if minutes is not None else []
            return "lapped, " + (" in ".join(parts) or "how much is not known")
        case Table(moved=None):
            return "table moved, how far is not known"
        case Table(moved=moved):
            return f"table moved {signed(moved or 0.0, job.units)}"
        case Dress():
            return "wheel dressed: its bite and its place are learnt anew"
        case Coolant(on=on):
            return "coolant runs" if on else "coolant is off"


def _said_of_step(fact: AnyFact, job: Job) -> str:
    match fact:
        case Checked(what=what, result=result, text=text):
            return f"{what}: {result}" + (f", {text}" if text else "")
        case Clamp(how=how):
            return f"held from here on: {how}"
        case Tried(depth=depth, angle=angle, feel=feel):
            return f"tried at {lengths.place(depth, job.units)}, {angle:g}°: {feel}"
        case RunOut(z=z, full=full, angle=angle):
            highest = "" if angle is None else f", highest at {angle:g}°"
            where = lengths.place(z, job.units)
            return f"run-out at {where}: {lengths.size(full, job.units)} full movement{highest}"
        case Picture(file=file):
            return f"picture {file} belongs to the recording"
        case _:
            return _said_of_turning(fact, job)


def _said_of_turning(fact: AnyFact, job: Job) -> str:
    match fact:
        case Round():
            how = f"V of {fact.v:g}°" if fact.contacts in {"v", "saddle"} else fact.contacts
            where = lengths.place(fact.z, job.units)
            return (
                f"{fact.part} at {where} turns under {', '.join(fact.gauges)}, {how}: let it turn ten times, "
                "then say round done"
            )
        case RoundEnd():
            return "turning is over"
        case TurnMark(angle=None):
            return "the mark came by"
        case TurnMark(angle=angle):
            return f"the part rests at {angle:g}°"
        case Mask(start=start, stop=stop):
            return f"left out from {start:g}° to {stop:g}°"
        case _:
            return "recorded"


def signed(value: float, units: Units) -> str:
    """A movement with its sign.

    >>> signed(0.012, "mm"), signed(-0.0127, "in")
    ('+0.0120 mm', '−0.00050 in')
    """
    return f"{'+' if value >= 0.0 else '−'}{lengths.size(abs(value), units)}"
