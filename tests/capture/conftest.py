"""What the tests of the recording share: every fact there is, drawn at random."""

from __future__ import annotations

import os
import pty
import tty
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import strategies as st

from capture import events as ev
from capture.host.clock import Clock
from capture.metrology.form.contacts import RoundnessSetup
from capture.simulator.golden import Virtual
from capture.simulator.turned_part import Spinning, turned

SLOWLY = Spinning(rpm=20.0, turns=10.0, rate=20.0, noise=0.0002, resolution=0.0001, u_mark=0.02)
"""A part that turns slowly and steadily under a good gauge, with a pedal at every turn."""

number = st.floats(allow_nan=False, allow_infinity=False)
text = st.text(max_size=20)
wire = st.binary(max_size=20).map(lambda raw: raw.decode("latin-1"))
maybe = st.none() | number
seqs = st.lists(st.integers(0, 1000), max_size=4).map(tuple)
settings = st.dictionaries(text, number | text, max_size=3)
unit = st.sampled_from(["mm", "degC", "%", "deg", "N", "1"])
part = st.sampled_from(["bore", "shaft"])
plain = st.recursive(st.none() | st.booleans() | st.integers(-(2**53), 2**53) | number | text,
                     lambda inner: st.lists(inner, max_size=3) | st.dictionaries(text, inner, max_size=3),
                     max_leaves=5)  # fmt: skip

FACTS = st.one_of(
    st.builds(ev.Reading, value=number, unit=unit, digits=st.integers(0, 9), raw=wire, shown=text),
    st.builds(ev.Garbled, why=text, raw=wire),
    st.builds(ev.Up, detail=text),
    st.builds(ev.Down, why=text),
    st.builds(ev.Battery, level=number),
    st.builds(
        ev.Pass,
        infeed=maybe,
        times=st.integers(1, ev.MOST_PASSES),
        rests=st.integers(0, ev.MOST_PASSES),
        of=st.none() | st.integers(0, 2**40),
    ),
    st.builds(ev.Station, part=part, z=number, angle=number),
    st.builds(ev.Confirmation, of=st.integers(0, 2**40), yes=st.booleans()),
    st.builds(ev.Stage, name=text),
    st.builds(ev.Master, gauge=text, size=number, u=number),
    st.builds(ev.Reject, of=st.integers(0, 2**40), why=text),
    st.builds(ev.Note, text=text),
    st.builds(
        ev.Taken,
        part=part,
        z=maybe,
        angle=maybe,
        pass_=st.integers(0, 99),
        value=number,
        u=number,
        of=seqs,
        settings=settings,
    ),
    st.builds(
        ev.Flag,
        what=text,
        pass_=st.integers(0, 99),
        of=seqs,
        figures=st.dictionaries(text, maybe, max_size=3),
        settings=settings,
    ),
    st.builds(
        ev.Round,
        part=part,
        z=number,
        contacts=text,
        gauges=st.lists(text, max_size=3).map(tuple),
        at=st.lists(number, max_size=3).map(tuple),
        v=number,
        offset=number,
        turned=number,
        rpm=maybe,
    ),
    st.builds(ev.RoundEnd),
    st.builds(ev.TurnMark, angle=maybe),
    st.builds(ev.Mask, start=number, stop=number),
    st.builds(ev.RunOut, z=number, full=number, angle=maybe),
    st.builds(ev.Beat),
    st.builds(
        ev.Other,
        name=st.just("ring") | text.map(lambda name: f"new {name}"),
        fields=st.dictionaries(text.filter(lambda key: key != "kind"), plain, max_size=3),
    ),
)


@pytest.fixture(scope="session")
def every_fact() -> st.SearchStrategy[ev.AnyFact]:
    """A strategy over all facts of the vocabulary, and some that this version does not know."""
    return FACTS


@pytest.fixture(scope="session")
def number_facts() -> Callable[[Iterable[ev.AnyFact]], list[ev.Event]]:
    """Gives facts their numbers and times, a tenth of a second apart, from number *first*."""

    def numbered(facts: Iterable[ev.AnyFact], first: int = 0) -> list[ev.Event]:
        return [
            ev.Event(seq, ev.Instant(seq * 10**8, 1_772_442_847_120_000_000 + seq * 10**8), "mike", fact)
            for seq, fact in enumerate(facts, first)
        ]

    return numbered


class Hands:
    """A pair of clocks that a test sets by hand."""

    def __init__(self) -> None:
        self.mono = 5_000_000_000
        self.wall = 1_772_442_847_120_000_000

    def pass_(self, seconds: float) -> None:
        self.mono += round(seconds * 1e9)
        self.wall += round(seconds * 1e9)

    def clock(self, after: ev.Instant | None = None) -> Clock:
        return Clock.start(after, monotonic=lambda: self.mono, wall=lambda: self.wall)


@pytest.fixture
def hands() -> Hands:
    return Hands()


class Plug:
    """The far end of a serial cable: a pseudo-terminal behind a name that stays."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._gauge = -1
        self.plug()

    def plug(self) -> None:
        self._gauge, terminal = pty.openpty()
        tty.setraw(terminal)
        self.path.symlink_to(os.ttyname(terminal))
        os.close(terminal)

    def unplug(self) -> None:
        os.close(self._gauge)
        self._gauge = -1
        self.path.unlink()

    def say(self, data: bytes) -> None:
        os.write(self._gauge, data)


@pytest.fixture
def plug(tmp_path: Path) -> Iterator[Plug]:
    port = Plug(tmp_path / "ttyGauge")
    yield port
    if port._gauge >= 0:
        port.unplug()


FIT_SHEET = """\
[job]
name = "sleeve"
units = "mm"
[fit]
nominal = 55.0
clearance = { aim = 0.005, least = 0.002, most = 0.008 }
engagement = { length = 150.0, from = 20.0, to = 100.0 }
rule = "guarded"
[bore]
material = "grey cast iron"
stations = [0, 40, 70, 100, 130, 150]
angles = [0, 60, 120]
[shaft]
material = "steel 4140"
stations = [20, 80, 140, 200, 260]
angles = [0, 60, 120]
plating = { least = 0.10, most = 0.20, stock = 0.05, runout = 0.01 }
[[gauge]]
name = "mike"
measures = "diameter"
link = { serial = "/dev/ttyA" }
resolution = 0.0001
repeatability = 0.0003
[[gauge]]
name = "plug"
measures = "bore"
link = { serial = "/dev/ttyB" }
resolution = 0.0001
repeatability = 0.0003
[[gauge]]
name = "warm bore"
measures = "temperature"
part = "bore"
link = { serial = "/dev/ttyC" }
limits = 0.1
[[gauge]]
name = "warm shaft"
measures = "temperature"
part = "shaft"
link = { serial = "/dev/ttyD" }
limits = 0.1
[[gauge]]
name = "warm master"
measures = "temperature"
part = "master"
link = { serial = "/dev/ttyE" }
limits = 0.1
"""
"""A bore gauge and a micrometer, both set on masters, and three probes."""

BORE = {0: 55.0023, 40: 55.0021, 70: 55.0020, 100: 55.0020, 130: 55.0022, 150: 55.0025}
SHAFT = {20: 54.9969, 80: 54.9971, 140: 54.9972, 200: 54.9971, 260: 54.9968}


def write_fit(
    path: Path, sheet: str = FIT_SHEET, note: str = "wiped <dry> & cold", away: float = 0.0
) -> Path:
    """A recording of both parts, by bytes from its gauges and a person's words, in the sheet's units.

    Every bore reading is moved by *away* mm.
    """
    inch = 25.4 if 'units = "in"' in sheet else 1.0
    path.unlink(missing_ok=True)
    shop = Virtual(path, sheet)

    def heat() -> None:
        for probe in ("warm bore", "warm shaft", "warm master"):
            shop.receive(probe, b"21.00\r\n")

    def reads(gauge: str, *values: float) -> None:
        for value in values:
            shop.wait(3)
            shop.receive(gauge, f"{value / inch:.8f}\r\n".encode())

    for part, gauge, stage, sizes, move in (
        ("bore", "plug", "lapped", BORE, away),
        ("shaft", "mike", "finish", SHAFT, 0.0),
    ):
        heat()
        shop.say("stage", stage)
        shop.say("master", gauge, f"{55.0 / inch!r}", f"{0.0003 / inch!r}")
        reads(gauge, 55.0002, 55.0003, 55.0002)
        shop.say("station", part, f"{min(sizes) / inch!r}", "0")
        for size in sizes.values():
            reads(gauge, *[size + 0.0002 + move + (0.0002 if angle == 60 else 0.0) for angle in (0, 60, 120)])
        shop.say("master", gauge, f"{55.0 / inch!r}", f"{0.0003 / inch!r}")
        reads(gauge, 55.0003, 55.0004, 55.0003)
    shop.say("note", *note.split())
    shop.close()
    return path


@pytest.fixture(scope="session")
def fit_sheet_text() -> str:
    return FIT_SHEET


@pytest.fixture(scope="session")
def fit_recording() -> Callable[..., Path]:
    """Writes a recording of a bore and its shaft, measured."""
    return write_fit


def write_turned(
    path: Path,
    setups: Sequence[RoundnessSetup],
    part: Mapping[int, complex],
    *,
    how: Spinning = SLOWLY,
    axis: Mapping[int, complex] | None = None,
    runs: Sequence[Sequence[int]] | None = None,
    told: bool = True,
    seed: int = 0,
) -> Path:
    """A recording of a part of known lobes that turned under one gauge for each of *setups*.

    Runs lists which set-ups were read together; all of them at once where it is None. The movement of the
    axis is along 0 degrees.
    """
    random = np.random.default_rng(seed)
    path.unlink(missing_ok=True)
    dials = [f"dial{n}" for n in range(len(setups))]
    sheet = '[job]\nname = "ring"\nunits = "mm"\n' + "".join(
        f'[[gauge]]\nname = "{dial}"\nmeasures = "runout"\nresolution = 0.0001\n'
        f'link = {{ serial = "{dial}" }}\n'
        for dial in dials
    )
    shop = Virtual(path, sheet)
    lobes, movement = np.zeros(16, complex), (np.zeros(16, complex), np.zeros(16, complex))
    lobes[list(part)] = list(part.values())
    movement[0][list(axis or {})] = list((axis or {}).values())
    for run in runs or [range(len(setups))]:
        shown = turned(random, lobes, how, [setups[n] for n in run], movement)
        one = setups[run[0]]
        name = f"{one.contacts}{one.angle:g}" if one.contacts in {"v", "saddle"} else one.contacts
        shop.say(
            *f"round shaft 40 {name} turned={one.turned:g} offset={one.offset:g}".split(),
            *(f"{dials[n]}@{setups[n].at:g}" for n in run),
            *([f"rpm={how.rpm:g}"] if told else []),
        )
        doings: list[tuple[float, str, str]] = [(at, "", "") for at in shown[0].marks.tolist() if at > 0]
        for n, each in zip(run, shown, strict=True):
            values = zip(each.times.tolist(), each.values.tolist(), strict=True)
            doings += [(at, dials[n], f"{value:+.5f}\r\n") for at, value in values]
        now = 0.0
        for at, dial, data in sorted(doings):
            shop.wait(max(at - now, 0.0))
            now = max(now, at)
            if dial:
                shop.receive(dial, data.encode())
            else:
                shop.say("turn")
        shop.wait(1.0)
        shop.say("round", "done")
    shop.close()
    return path


@pytest.fixture(scope="session")
def turned_recording() -> Callable[..., Path]:
    """Writes a recording of a part that turned under gauges."""
    return write_turned
