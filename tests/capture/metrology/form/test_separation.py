"""The part apart from its axis: simulated harmonics of known truth, and what cannot be told is said."""

from __future__ import annotations

import numpy as np
import pytest

from capture.metrology.form.contacts import RoundnessSetup, row
from capture.metrology.form.separation import RunHarmonics, axis_movement, form_of, lobes_of

PART = {2: 2e-3 + 1e-3j, 3: 1e-3 + 0j, 5: -0.5e-3j, 7: 0.8e-3 + 0j}
AXIS = ({2: 0.7e-3 + 0j, 3: 0.5e-3j, 5: 0.3e-3 + 0j}, {2: 0.2e-3j, 3: -0.4e-3 + 0j, 5: 0j})


def run(
    setup: RoundnessSetup, *, group: int = 0, phased: bool = True, axis: bool = True, u: float = 1e-8
) -> RunHarmonics:
    shown = {}
    for n in range(1, 16):
        seen, x, y = row(n, setup)
        shown[n] = seen * PART.get(n, 0) + (x * AXIS[0].get(n, 0) + y * AXIS[1].get(n, 0) if axis else 0)
    return RunHarmonics(setup, shown, dict.fromkeys(shown, u), phased, group)


def amplitudes(runs: list[RunHarmonics]) -> dict[int, float]:
    return {one.lobes: one.amplitude for one in lobes_of(runs) if one.amplitude is not None}


def test_three_probes_take_the_movement_of_the_axis_out():
    """The three-point method: gauges at 0, 99.844 and 202.5 degrees (angles from memory) see 2 to 15."""
    runs = [run(RoundnessSetup("centres", at=at), phased=False) for at in (0.0, 99.844, 202.5)]

    found = lobes_of(runs)

    assert [one.lobes for one in found if one.unseen] == []
    for one in found:
        assert one.amplitude == pytest.approx(abs(PART.get(one.lobes, 0)), abs=1e-9)
        assert one.separated
    moved = axis_movement(runs)
    assert moved[2][0] == pytest.approx(np.hypot(0.7e-3, 0.2e-3), abs=1e-9)


def test_three_probes_evenly_round_do_not_tell_threes_from_the_axis():
    """At 0, 120 and 240 degrees lobes 3k + 1 and 3k - 1 move as an axis does: only threes are the part's."""
    runs = [run(RoundnessSetup("centres", at=at)) for at in (0.0, 120.0, 240.0)]

    separated = {one.lobes for one in lobes_of(runs) if one.separated}

    assert separated == {3, 6, 9, 12, 15}


def test_a_reversal_takes_the_movement_of_the_axis_out():
    runs = [
        run(RoundnessSetup("centres"), group=1),
        run(RoundnessSetup("centres", at=180.0, turned=180.0), group=2),
    ]

    assert amplitudes(runs) == pytest.approx({n: abs(PART.get(n, 0)) for n in range(2, 16)}, abs=1e-9)


def test_a_reversal_without_a_mark_separates_nothing():
    runs = [
        run(RoundnessSetup("centres"), group=1, phased=False),
        run(RoundnessSetup("centres", at=180.0, turned=180.0), group=2, phased=False),
    ]

    assert not any(one.separated for one in lobes_of(runs))


def test_a_v_does_not_see_the_axis_and_is_taken_before_the_centres():
    runs = [run(RoundnessSetup("centres"), group=1, u=2e-5), run(RoundnessSetup("v", 90.0), group=2, u=2e-5)]

    found = {one.lobes: one for one in lobes_of(runs)}

    assert found[3].separated
    assert found[3].amplitude == pytest.approx(1e-3, abs=1e-6)
    assert not found[7].separated, "a V of 90 degrees does not see seven lobes"


def test_what_the_contacts_pass_by_is_named_and_has_no_amplitude():
    found = lobes_of([run(RoundnessSetup("v", 90.0))])

    assert [one.lobes for one in found if one.unseen == "contacts"] == [7, 9, 15]
    assert all(one.amplitude is None for one in found if one.unseen == "contacts")


def test_several_vs_see_what_one_misses():
    vs = [
        run(RoundnessSetup("v", angle), group=n, phased=False) for n, angle in enumerate((60.0, 90.0, 120.0))
    ]

    found = lobes_of(vs)

    assert [one.lobes for one in found if one.unseen] == []
    assert {one.lobes: one.amplitude for one in found}[7] == pytest.approx(0.8e-3, abs=1e-8)


def test_the_odd_lobes_are_what_two_points_do_not_see():
    """Half the peak-to-valley of the odd part: of three lobes alone their amplitude (RONt is twice)."""
    alone = {n: value for n, value in PART.items() if n == 3}
    setup = RoundnessSetup("centres")
    shown = {n: complex(alone.get(n, 0)) for n in range(1, 16)}
    runs = [RunHarmonics(setup, shown, dict.fromkeys(shown, 1e-5), phased=True)]

    form = form_of(lobes_of(runs), runs)

    assert form.odd == pytest.approx(1e-3, rel=1e-3)
    assert form.roundness == pytest.approx(2e-3, rel=1e-3)


def test_lobes_of_runs_that_began_anywhere_are_added_up():
    runs = [
        run(RoundnessSetup("v", 90.0), group=1, phased=False),
        run(RoundnessSetup("v", 120.0), group=2, phased=False),
    ]

    form = form_of(lobes_of(runs), runs)

    assert not form.in_phase
    assert form.odd == pytest.approx(1e-3 + 0.5e-3 + 0.8e-3, rel=1e-3)
    assert form.profile == ()
