"""What a riding gauge's figures rest on; sizes are worked by hand from K (King and Hahn, from memory)."""

from __future__ import annotations

from capture.sheet.job import Gauge
from capture.sheet.reader import job_of
from capture.state.stream.ride_passes import figures_of
from capture.state.stream.riding_state import RidingState, SizeStep


def rider() -> Gauge:
    """The riding gauge of a sheet."""
    link = {"serial": "a"}
    one = {"name": "rider", "measures": "diameter", "link": link, "resolution": 0.0001, "rides": 80.0}
    job = job_of(
        {
            "job": {"name": "ride"},
            "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
            "shaft": {"material": "steel 4140", "stations": [80]},
            "grinder": {"dial": "diameter"},
            "gauge": [one],
        }
    )
    return job.gauges[0]


def state_after(falls: list[float]) -> RidingState:
    """A state whose passes took *falls*, mm, 20 s apart; all but the first without infeed."""
    steps, size = list[SizeStep](), 0.0
    for n, fall in enumerate(falls):
        size -= fall
        t = 30.0 + 20.0 * n
        steps.append(
            SizeStep(t, fall, 4e-5, size, n > 0, before_at=t - 9, u_before=2e-5, after_at=t + 9, u_after=2e-5)
        )
    return RidingState(steps=tuple(steps), count=len(steps), due=steps[-1])


def test_a_small_fall_alone_after_a_pass_with_infeed_is_no_sure_spark_out():
    """0.8 µm after 6 µm may be the part springing back; 2.4 µm after 6 µm is a rest at K = 0.6."""
    doubtful = figures_of(state_after([0.006, 0.0008]), rider(), [])
    clear = figures_of(state_after([0.006, 0.0024]), rider(), [])

    assert float(doubtful["rides.u_coming"]) > 2.0 * float(clear["rides.u_coming"])


def test_a_second_rest_settles_what_the_first_left_in_doubt():
    """1.4 µm after 6 µm is a rest at K = 0.77; 0.32 µm after that bears it out: 0.07 µm are next."""
    alone = figures_of(state_after([0.006, 0.0014]), rider(), [])
    borne_out = figures_of(state_after([0.006, 0.0014, 0.00032]), rider(), [])

    assert float(borne_out["rides.coming"]) < 0.0003
    assert float(borne_out["rides.u_coming"]) < 0.5 * float(alone["rides.u_coming"])
