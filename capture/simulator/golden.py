"""Whole recordings of simulated sessions, without waiting: ``python -m capture.simulator.golden FOLDER``.

What gauges send goes through their dialects and what the operator says through the marks, so a
recording made here is what a capture of the same shop would have written, to the byte.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeAlias

from capture.events import Down, Up
from capture.simulator import gauge_lines, shop, untold_shop
from capture.simulator.golden_power import power, power_gone, power_scale, power_still
from capture.simulator.grinder import SimulatedGrinder
from capture.simulator.sessions.bore_session import BORE, Spoken, bore_session
from capture.simulator.sessions.ride_session import RIDING, ride_session, sleeve_ride
from capture.simulator.sessions.round_session import ROUND, round_session
from capture.simulator.virtual_capture import Virtual

Script: TypeAlias = Iterator[shop.OperatorStep]


def record(
    path: Path, grinder: SimulatedGrinder, script: Script, *, probe: bool = True, lost: range = range(0)
) -> None:
    """Record *script* on *grinder* into *path*, an existing file replaced.

    Args:
        path: The recording.
        grinder: The machine.
        script: What the operator does.
        probe: Whether a temperature probe is on the part.
        lost: Steps during which the micrometer's cable is out.
    """
    path.unlink(missing_ok=True)
    sheet = shop.SLEEVE.format(mike="/dev/ttyUSB0", probe="/dev/ttyUSB1")
    if not probe:
        sheet = sheet[: sheet.rindex("[[gauge]]")]
    capture = Virtual(path, sheet)
    capture.link("mike", Up("/dev/ttyUSB0"))
    if probe:
        capture.link("probe", Up("/dev/ttyUSB1"))
    for number, step in enumerate(script):
        if lost and number == lost.start:
            capture.link("mike", Down("/dev/ttyUSB0 was unplugged: plug it in again, it is looked for"))
        if lost and number == lost.stop:
            capture.link("mike", Up("/dev/ttyUSB0"))
        if probe:
            capture.receive("probe", shop.temperature_line(grinder.probe()))
        if step.words:
            capture.say(*step.words)
        if step.measure is not None and number not in lost:
            capture.receive("mike", shop.diameter_line(grinder.measure(step.measure)))
        capture.wait(step.seconds)
    capture.close()


def good(path: Path) -> None:
    """Coolant on, ground to size and sparked out."""
    grinder = shop.sleeve_grinder()
    record(path, grinder, shop.good_session(grinder))


def no_coolant(path: Path) -> None:
    """Dry, with a probe: on size while it is warm."""
    grinder = shop.sleeve_grinder(coolant=False)
    record(path, grinder, shop.dry_session(grinder))


def growing(path: Path) -> None:
    """Dry, and no probe: only the sizes show the heat."""
    grinder = shop.sleeve_grinder(coolant=False, hot=True)
    record(path, grinder, shop.dry_session(grinder, rest=20), probe=False)


def glazed_wheel(path: Path) -> None:
    """The wheel loses a sixteenth of its bite with every pass."""
    grinder = shop.sleeve_grinder(glazing=0.06)
    record(path, grinder, shop.good_session(grinder))


def unplugged(path: Path) -> None:
    """The micrometer's cable comes out for two passes."""
    grinder = shop.sleeve_grinder()
    record(path, grinder, shop.good_session(grinder), lost=range(21, 29))


def untold(path: Path) -> None:
    """Nobody says a word, and the head is wound back to measure."""
    _untold(path, wind_back=True)


def untold_beside(path: Path) -> None:
    """Nobody says a word, and the part is measured beside the standing head."""
    _untold(path, wind_back=False)


def _untold(path: Path, *, wind_back: bool, turned: bool = False) -> None:
    lines = untold_shop.untold_session(wind_back=wind_back)
    if turned:
        lines = (line._replace(data=_turned(line.data)) if line.gauge == "saddle" else line for line in lines)
    gauge_lines.record(path, untold_shop.UNTOLD, ("mike", "probe", "saddle"), lines)


def _turned(data: bytes) -> bytes:
    """A line with the other sign."""
    return data.translate(bytes.maketrans(b"+-", b"-+"))


def cut_tail(path: Path) -> None:
    """The power failed in the middle of a line."""
    good(path)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * 0.8)])


def bore(path: Path) -> None:
    """A bore gauge set on a ring, a bore swept in two stages, and lapped between them."""
    path.unlink(missing_ok=True)
    capture = Virtual(path, BORE.format(plug="/dev/ttyUSB0"))
    capture.link("plug", Up("/dev/ttyUSB0"))
    seconds = 0.0
    for doing in bore_session():
        capture.wait(max(0.0, doing.at - seconds))
        seconds = max(seconds, doing.at)
        if isinstance(doing, Spoken):
            capture.say(*doing.words)
        else:
            capture.receive("plug", doing.data)
    capture.close()


def round_part(path: Path) -> None:
    """A shaft with a keyway turned in two V-blocks under an indicator, a pedal at each turn."""
    path.unlink(missing_ok=True)
    capture = Virtual(path, ROUND.format(dial="/dev/ttyUSB0"))
    capture.link("dial", Up("/dev/ttyUSB0"))
    seconds = 0.0
    for doing in round_session():
        capture.wait(max(0.0, doing.at - seconds))
        seconds = max(seconds, doing.at)
        if doing.value is None:
            capture.say(*doing.words)
        else:
            capture.receive("dial", f"{doing.value:+.4f} mm\r\n".encode("ascii"))
    capture.close()


def riding(path: Path) -> None:
    """A gauge rides on the part, and nobody says a word."""
    gauge_lines.record(path, RIDING, ("rider", "mike"), ride_session(sleeve_ride()))


def untold_turned(path: Path) -> None:
    """The infeed gauge counts the other way than its sign on the sheet."""
    _untold(path, wind_back=True, turned=True)


RECORDINGS: dict[str, Callable[[Path], None]] = {
    "good": good,
    "no-coolant": no_coolant,
    "growing": growing,
    "glazed-wheel": glazed_wheel,
    "unplugged": unplugged,
    "cut-tail": cut_tail,
    "untold": untold,
    "untold-beside": untold_beside,
    "bore": bore,
    "riding": riding,
    "round": round_part,
    "untold-turned": untold_turned,
    "power": power,
    "power-gone": power_gone,
    "power-still": power_still,
    "power-scale": power_scale,
}


def main(folder: Path) -> None:
    """Write every recording into *folder*."""
    for name, write in RECORDINGS.items():
        write(folder / f"{name}.jsonl")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "recordings"))
