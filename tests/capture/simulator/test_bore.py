"""The bore gauge in a hand shows what the geometry says, and its truth beside it."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import numpy as np
import pytest

from capture.analysis.steps.lapping_progress import lapping
from capture.analysis.summary import summary
from capture.metrology.bore.bore_gauge import tilt_error
from capture.recording.reader import read
from capture.sheet.reader import job_of, read_sheet
from capture.simulator.bore import BoreGauge, Hand, Wire
from capture.simulator.golden import bore
from capture.simulator.sessions.bore_session import BORE, Sent, Spoken, bore_session, play
from capture.simulator.shop import Outlet
from capture.state import replay
from capture.text.catalogue import sentences

QUIET = Wire(rate=50.0, noise=0.0, resolution=1e-9, late=0.0)
FOLDER = Path(__file__).parents[3] / "recordings"


def test_a_leaning_gauge_shows_as_much_more_as_the_geometry_says():
    """1° on 50 mm is 7.62 µm: D (1 / cos 1° - 1) by a calculator."""
    gauge = BoreGauge(Hand(swing=0.0), QUIET, 1)

    shown = [sample.value for sample in gauge.still(1.0, 50.0, tilt=1.0)]

    assert shown == [pytest.approx(50.00762, abs=5e-6)] * 50


def test_off_the_centre_it_shows_a_chord():
    """0.1 mm off in 50 mm is 0.40 µm: D - sqrt(D² - 4 e²) by a calculator."""
    gauge = BoreGauge(Hand(swing=0.1, swing_every=1.0), QUIET, 1)

    shown = [sample.value for sample in gauge.still(2.0, 50.0, tilt=0.0)]

    assert min(shown) == pytest.approx(50.0 - 0.0004, abs=5e-6)
    assert max(shown) == pytest.approx(50.0, abs=5e-6)


@pytest.mark.parametrize("shape", ["sine", "straight", "flowing"])
def test_rocking_crosses_the_upright_twice_a_rock(shape):
    hand = Hand(frequency=1.0, amplitude=3.0, pauses=0.0, lean=0.0, uneven=0.05, shape=shape, swing=0.0)

    shown = np.array([s.value for s in BoreGauge(hand, QUIET, 3).rock(55.0, 6)])

    bottoms = (shown[1:-1] < shown[:-2]) & (shown[1:-1] <= shown[2:])
    assert 11 <= bottoms.sum() <= 13
    assert shown.min() - 55.0 < 0.001
    assert shown.max() - 55.0 == pytest.approx(tilt_error(55.0, 3.0), rel=0.5)


def test_the_same_seed_is_the_same_stream_and_another_is_not():
    def stream(seed: int) -> list[float]:
        return [s.value for s in BoreGauge(Hand(), Wire(), seed).rock(55.0, 3)]

    assert stream(5) == stream(5)
    assert stream(5) != stream(6)


def test_readings_arrive_in_order_and_late():
    samples = list(BoreGauge(Hand(), Wire(late=0.03), 2).rock(55.0, 5))

    arrivals = np.array([s.at for s in samples])
    assert (np.diff(arrivals) >= 0).all()
    assert (arrivals - np.arange(len(samples)) / 20 >= -1e-9).all()


def test_a_mirrored_gauge_shows_the_mirrored_stream():
    def stream(sign: int) -> list[float]:
        wire = Wire(sign=sign, noise=0.0, zero=55.0)
        return [s.value for s in BoreGauge(Hand(), wire, 2).rock(55.0, 2)]

    assert stream(-1) == [-value for value in stream(1)]


def test_the_session_is_in_order_and_its_sheet_is_good():
    session = list(bore_session())

    assert [doing.at for doing in session] == sorted(doing.at for doing in session)
    assert {type(doing) for doing in session} == {Spoken, Sent}
    assert read_sheet(BORE.format(plug="/dev/null"), "bore")[0].gauges[0].stream is True


def test_a_session_is_played_to_whoever_listens_and_its_words_are_said():
    said: list[tuple[str, ...]] = []

    async def say(words) -> None:
        said.append(tuple(words))

    async def listen() -> bytes:
        plug = Outlet()
        async with plug.open() as address:
            host, port = address.removeprefix("socket://").split(":")
            reader, writer = await asyncio.open_connection(host, int(port))
            session = [
                Spoken(0.0, ("stage", "lapped")),
                Sent(0.01, b"+55.001 mm\r\n"),
                Sent(0.02, b"+55.002 mm\r\n"),
            ]
            await play(session, plug, say)
            heard = await reader.readexactly(24)
            writer.close()
            return heard

    assert asyncio.run(listen()) == b"+55.001 mm\r\n+55.002 mm\r\n"
    assert said == [("stage", "lapped")]


def test_the_recorded_session_is_what_is_made_now_and_holds_the_true_bore(tmp_path):
    """Truth: the simulator's, in the file beside the recording; limit 1 µm with the ring's 0.3 µm in it."""
    due = json.loads((FOLDER / "bore.found.json").read_text("utf-8"))["sweeps"]
    recording = read(FOLDER / "bore.jsonl")
    state = replay.state_at_end(job_of(recording.header.job), recording)
    bore(tmp_path / "bore.jsonl")

    found = {(row["stage"], row["z"], row["angle"]): row for row in summary(state)["sweeps"]}

    assert len(found) == len(due["places"])
    for stage, z, angle, size in due["places"]:
        row = found[stage, z, angle]
        assert row["value"] == pytest.approx(size, abs=due["within"])
        assert abs(row["value"] - size) <= 3 * row["u"]
    again = read(tmp_path / "bore.jsonl")
    now = summary(replay.state_at_end(job_of(again.header.job), again))["sweeps"]
    assert [{**row, "u": None} for row in now] == [{**row, "u": None} for row in summary(state)["sweeps"]]
    # Since 2026-11-29 the shape of the hand is in the uncertainty; what was recorded before keeps its own.
    for new, old in zip(now, summary(state)["sweeps"], strict=True):
        assert old["u"] <= new["u"] <= 1.1 * old["u"]


def test_the_lap_of_the_session_is_understood():
    recording = read(FOLDER / "bore.jsonl")

    found = lapping(replay.state_at_end(job_of(recording.header.job), recording))

    assert found is not None
    assert found.removed == pytest.approx(0.0013, abs=0.0004)
    assert found.strokes_left is not None
    assert "80 mm" in sentences(found.said, "mm")[0]
