"""Chatter: frequencies of simulated streams, aliases by the sampling theorem."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from capture.benchmarks.trials.turning.chattering import trial
from capture.benchmarks.trials.turning.chattering_apart import apart_stream_of
from capture.events import Reading
from capture.metrology.grinding.wheel.chatter import Speeds, tones
from capture.recording.reader import read


def stream(frequency: float, rate: float, seconds: float = 40.0) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(1)
    t = np.arange(int(rate * seconds)) / rate
    return t, 0.002 * np.cos(2 * np.pi * frequency * t) + random.normal(0, 0.0004, len(t))


def test_a_wheel_out_of_balance_is_told_though_the_gauge_shows_an_alias():
    """A wheel at 28.3 Hz read 20 times a second shows 8.3 Hz."""
    times, values = stream(28.3, 20.0)

    (tone, *_) = tones(times, values, Speeds(wheel=28.3, work=1.1))

    assert tone.frequency == pytest.approx(8.3, abs=0.01)
    assert any(one == pytest.approx(28.3, abs=0.05) for one in tone.aliases)
    assert (tone.causes[0].kind, tone.causes[0].alias) == ("wheel", True)


def test_the_centres_are_told_from_once_a_turn_of_the_work():
    (tone, *_) = tones(*stream(1.1, 20.0), Speeds(wheel=28.3, work=1.1))

    assert tone.causes[0].kind == "centres"
    assert tone.amplitude == pytest.approx(0.002, rel=0.1)


def test_what_nothing_turns_at_is_self_excited():
    (tone, *_) = tones(*stream(7.77, 50.0), Speeds(wheel=20.2, work=0.93))

    assert tone.causes[0].kind == "regeneration"


def test_noise_alone_names_nothing():
    random = np.random.default_rng(2)
    times = np.arange(800) / 20

    assert tones(times, random.normal(0, 0.0005, 800), Speeds(wheel=25.0, work=1.0)) == ()


def test_too_few_readings_are_refused():
    with pytest.raises(ValueError, match="due 40"):
        tones(np.arange(10.0), np.zeros(10), Speeds())


def test_lobes_of_the_work_are_told_though_its_speed_was_told_a_percent_wrong():
    """Seven lobes at 1.111 turns a second are 7.777 Hz; by the told 1.1 they would be 7.7."""
    times, values = stream(7 * 1.111, 20.0)
    values = values + 0.0006 * np.cos(2 * np.pi * 1.111 * times)

    (tone, *_) = tones(times, values, Speeds(wheel=28.3, work=1.1))

    assert tone.causes[0].kind == "lobes"
    assert tone.causes[0].lobes == pytest.approx(7.0, abs=0.01)


def test_what_grows_beside_a_line_of_the_wheel_is_self_excited():
    """A forced vibration keeps its amplitude; self-excited chatter grows (any text on machine vibrations)."""
    times, values = stream(28.4, 50.0)
    speeds = Speeds(wheel=28.3, work=1.1)
    growing = (values - values.mean()) * (0.3 + 1.4 * times / times[-1])

    assert tones(times, values, speeds)[0].causes[0].kind == "wheel"
    assert tones(times, growing, speeds)[0].causes[0].kind == "regeneration"


def test_the_cause_of_drawn_streams_is_named_and_every_alias():
    """93 % of 400 are right: of 20, fewer than 16 would be one in two hundred (binomial)."""
    each = [trial(31_000 + number) for number in range(20)]

    assert sum(one.named == one.cause for one in each) >= 16
    assert all(one.alias_named for one in each if one.aliased)


def test_the_cause_is_named_on_a_machine_of_other_physics_and_every_alias():
    """95 % of 200 are right: of 20, fewer than 16 would be one in two hundred (binomial)."""
    each = [trial(91_000 + number, apart_stream_of) for number in range(20)]

    assert sum(one.named == one.cause for one in each) >= 16
    assert all(one.alias_named for one in each if one.aliased and one.named)


def test_lobes_tell_the_speed_of_the_work_where_its_run_out_does_not_show():
    """4, 9 and 11 lobes of 1.036 turns a second; told was 1.02."""
    t = np.arange(2400) / 40
    values = sum(
        size * np.cos(2 * np.pi * n * 1.036 * t) for n, size in ((4, 3e-4), (9, 4e-4), (11, 2e-3))
    ) + np.random.default_rng(3).normal(0, 3e-4, len(t))

    found = tones(t, values, Speeds(wheel=31.0, work=1.02))

    assert [one.causes[0].kind for one in found[:3]] == ["lobes"] * 3
    assert {round(one.causes[0].lobes, 2) for one in found[:3]} == {4.0, 9.0, 11.0}


def test_a_keyway_under_the_finger_is_no_chatter():
    """The golden riding recording: its finger falls 0.3 mm into a keyway nearly once in ten readings."""
    events = read(Path(__file__).parents[5] / "recordings" / "riding.jsonl")
    seen = [
        (one.at.seconds, one.fact.value)
        for one in events
        if one.source == "rider" and isinstance(one.fact, Reading)
    ]
    times, values = np.array(seen).T

    assert np.ptp(values[1000:]) > 0.2
    assert all(one.amplitude < 0.002 for one in tones(times[1000:], values[1000:], Speeds()))


def test_a_size_that_settles_is_no_vibration():
    t = np.arange(3000) / 20
    values = 0.006 * np.exp(-t / 40) + np.random.default_rng(4).normal(0, 3e-4, len(t))

    assert tones(t, values, Speeds(work=1.0)) == ()
