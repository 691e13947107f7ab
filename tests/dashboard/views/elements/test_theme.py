from __future__ import annotations

import pytest

from dashboard.views.elements.theme import PAPER, VERDICT, contrast, stylesheet


def test_contrast_agrees_with_the_known_grey():
    """#767676 is the lightest grey that passes AA on white, at 4.54 (W3C's examples; from memory)."""
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#ffffff") < 4.5


def test_contrast_does_not_care_which_is_in_front():
    assert contrast("#d55e00", "#101417") == contrast("#101417", "#d55e00")


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "sheet"])
def test_text_passes_aa(theme, ground):
    """WCAG 2.2, 1.4.3: 4.5 for text."""
    for ink in ("ink", "faint"):
        assert contrast(PAPER[theme][ink], PAPER[theme][ground]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_marks_of_the_trend_pass_aa_for_graphics(theme):
    """WCAG 2.2, 1.4.11: 3 for graphics; the coloured labels of the way are large and bold, 1.4.3: 3."""
    for mark in ("size", "predicted", "band", "rule"):
        assert contrast(PAPER[theme][mark], PAPER[theme]["sheet"]) >= 3.0


@pytest.mark.parametrize("state", list(VERDICT))
def test_every_verdicts_board_passes_aa(state):
    ground, ink, _ = VERDICT[state]

    assert contrast(ground, ink) >= 4.5


def test_no_two_verdicts_share_ground_and_shape():
    """Colour is never alone: each verdict has a shape of its own."""
    shapes = [shape for _, _, shape in VERDICT.values()]

    assert len(set(shapes)) == len(shapes)


def test_the_stylesheet_names_both_papers_and_every_board():
    text = stylesheet()

    assert all(f'data-theme="{theme}"' in text for theme in PAPER)
    assert all(f'data-state="{state}"' in text for state in VERDICT)
