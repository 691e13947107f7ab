"""Jobs on other slides; the full trial stands in the results."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.passes.other_slides import SLIDES, other_job
from capture.benchmarks.trials.passes.untold_figures import NEAR, wrong_passes


@pytest.mark.parametrize("kind", sorted(SLIDES))
def test_most_passes_are_found_on_slides_of_every_kind(kind: str):
    one = other_job(0, kind)

    passes = sum(len(made) for made in one.made)
    wrong = sum(wrong_passes(made, found, NEAR) for made, found in zip(one.made, one.found, strict=True))
    assert passes >= 10
    assert wrong <= 0.1 * passes


def test_there_is_no_slide_of_a_kind_that_nobody_knows():
    with pytest.raises(ValueError, match="a kind of slide is one of"):
        other_job(1, "gliding")
