"""Jobs coached on a machine of other physics: the truth is kept apart, and parts land."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.coaching.coached import BAND
from capture.benchmarks.trials.coaching.coached_apart import ApartShop, coached, oracle


def test_a_job_is_drawn_from_its_seed_alone():
    assert oracle(5, "places") == oracle(5, "places")


def test_there_is_no_other_kind():
    with pytest.raises(ValueError, match="taper"):
        coached(1, "by eye")


def test_what_is_fed_comes_off_in_the_end_but_for_wear_and_heat():
    shop = ApartShop(3, "one place")
    end, _ = shop.end()
    shop.advance(0.010, truly=True)
    later, _ = shop.end()

    assert 0.008 < float(end[0] - later[0]) <= 0.0105


def test_a_table_moved_toward_the_wheel_takes_more_off_where_it_is_read():
    shop = ApartShop(7, "taper")
    before, _ = shop.end()
    shop.swivel(0.010)
    after, _ = shop.end()

    assert float(after[-1] - before[-1]) < float(after[0] - before[0])


@pytest.mark.parametrize("kind", ["one place", "places"])
def test_the_oracle_lands_every_part_and_the_coach_leaves_none_undersize(kind: str):
    seeds = range(40, 42)

    assert all(oracle(seed, kind).landed for seed in seeds)
    assert not any(coached(seed, kind).size < BAND.low for seed in seeds)


def test_a_tapered_part_lands_at_all_its_places():
    assert coached(1000, "taper").landed
