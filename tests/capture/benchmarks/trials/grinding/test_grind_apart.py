"""The machine of another physics does what its kinds say; laws of grinding, common practice."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.grinding.grind_apart import ApartGrind, ground, run


def test_without_infeed_each_pass_takes_less_and_the_end_is_that_of_many():
    """The spring of the machine relaxes (Malkin and Guo, "Grinding Technology")."""
    shop = ApartGrind(3, "plain")
    shop.advance(0.010, truly=True)
    _, end = shop.truth()
    taken = [shop.advance(0.0, truly=True) for _ in range(40)]

    assert taken == sorted(taken, reverse=True)
    assert shop.size == pytest.approx(end, abs=1e-5)


def test_a_wheel_that_glazes_leaves_more_standing_than_a_sharp_one():
    ends = []
    for kind in ("plain", "glazing"):
        shop = ApartGrind(3, kind)
        for _ in range(15):
            shop.advance(0.010, truly=True)
        ends.append(shop.size)

    assert ends[1] > ends[0] + 0.0005


def test_a_pointer_in_its_dead_band_does_not_move():
    shop = ApartGrind(3, "dead band")
    shop._noise = 0.0  # the band alone
    first = shop.measure(0).value
    shop.size -= 0.9 * shop._dead

    assert shop.measure(0).value + (shop.measure(0).growth or 0.0) == pytest.approx(first, abs=0.0005)


@pytest.mark.parametrize("kind", ["skipped", "plain"])
def test_readings_are_skipped_only_where_the_kind_says(kind):
    told = ground(5, kind)

    assert (len(told.sizes) < len(told.strokes) + 1) == (kind == "skipped")


def test_the_same_seed_gives_the_same_session():
    assert run(1, "plain", seed=4) == run(1, "plain", seed=4)


def test_a_kind_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="a kind of trial is one of plain"):
        ApartGrind(0, "no such")
