"""What a gauge on a turning part shows of its size, beside all that is no size."""

from __future__ import annotations

import numpy as np
import pytest

from capture.metrology.gauges.turning_part import second_mean, without_tones


def test_a_keyway_of_a_fifth_of_the_turn_does_not_move_the_size():
    times = [number / 50 for number in range(50)]
    values = [55.0 - (0.4 if number % 10 < 2 else 0.0) for number in range(50)]

    found = second_mean(times, values, 0.004)

    assert found is not None
    assert found.value == pytest.approx(55.0, abs=1e-9)
    assert found.kept == 40


def test_half_of_the_readings_elsewhere_mean_no_size():
    assert second_mean([0.1 * n for n in range(10)], [55.0, 55.3] * 5, 0.004) is None


@pytest.mark.parametrize("turns", [0.83, 2.1, 4.4, 7.3])
def test_run_out_and_ovality_are_taken_off_also_where_the_stream_folds_them(turns):
    """At 10 Hz the twofold of 7.3 turns a second shows at 4.6 Hz: |14.6 - 10| (Nyquist's folding)."""
    t = np.arange(60) / 10
    shown = 55.0 + 0.003 * np.cos(2 * np.pi * turns * t + 0.3) + 0.001 * np.cos(4 * np.pi * turns * t)

    plain = second_mean(t[-10:].tolist(), shown[-10:].tolist(), 0.004)
    taken_off, _ = without_tones(t.tolist(), shown.tolist(), 10, 0.0001)

    assert plain is not None
    assert np.abs(np.array(taken_off) - 55.0).max() < 0.0006
    assert np.std(taken_off) < 0.2 * np.std(shown)


def test_noise_alone_has_no_tone():
    random = np.random.default_rng(4)
    t = (np.arange(60) / 10).tolist()
    same = 0
    for _ in range(200):
        values = (55.0 + random.normal(0, 0.0003, 60)).tolist()
        same += without_tones(t, values, 10, 0.0001)[0] == tuple(values[-10:])

    assert same > 190
