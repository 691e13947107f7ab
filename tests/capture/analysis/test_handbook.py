import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.analysis.handbook import FORMULAS, BadValue, answer


def worked(name: str, **given_values: str):
    return answer(FORMULAS[name], given_values)


# Sources: the table of ISO 286-1 (IT6 over 50 up to 80 mm is 19 µm); the three-point factor of ISO 4292
# for three lobes in a V of 60 degrees is 3; v = pi d n by definition; IT grades by i = 0.45 D^(1/3) +
# 0.001 D, ISO 286-1, which gives 10 i for IT6.
@pytest.mark.parametrize(
    ("name", "values", "due"),
    [
        ("grade", {"nominal": "55", "grade": "6"}, 0.019),
        ("v-block", {"lobes": "3", "angle": "60"}, 3.0),
        ("rpm", {"diameter": "100", "speed": "31415.9265"}, 100.0),
        ("out-of-round", {"indicated": "0.003", "lobes": "3", "angle": "60"}, 0.001),
        ("gauge-wanted", {"tolerance": "0.005"}, 0.0005),
    ],
)
def test_a_formula_gives_what_its_standard_gives(name, values, due):
    assert worked(name, **values) == pytest.approx(due, rel=2e-3)


def test_several_numbers_are_separated_by_commas():
    # Two lobes of 0.5 µm amplitude: 1 µm peak to valley, by the definition of roundness (ISO 12181-1).
    found = worked("roundness", angles="0,90,180,270", deviations="0.001,0,0.001,0")

    assert pytest.approx(0.001) == found.RONt


@pytest.mark.parametrize(
    ("name", "values", "words"),
    [
        ("grade", {"nominal": "55"}, "needs grade"),
        ("grade", {"nominal": "55", "grade": "6", "shaft": "h"}, "knows no shaft"),
        ("grade", {"nominal": "wide", "grade": "6"}, "a number was due"),
        ("rpm", {"diameter": "inf", "speed": "1"}, "finite"),
        ("v-block", {"lobes": "many", "angle": "60"}, "whole number"),
        ("traverse", {"material": "cheese"}, "no traverse data"),
        ("chrome-and-heat", {"layer": "0.1", "base": "cheese", "plated": "chromium", "t": "25"}, "cheese"),
    ],
)
def test_what_cannot_be_worked_out_is_said_with_what_was_due(name, values, words):
    with pytest.raises(BadValue, match=words):
        worked(name, **values)


@given(st.sampled_from(sorted(FORMULAS)), st.data())
def test_whatever_is_written_gives_an_answer_or_a_sentence(name, data):
    formula = FORMULAS[name]
    text = st.one_of(st.text(max_size=8), st.floats(-1e3, 1e3).map(str), st.integers(-5, 400).map(str))
    values = {key: data.draw(text) for key in formula.parameters}

    said = ""
    try:
        answer(formula, values)
    except BadValue as error:
        said = str(error)

    assert not said or name in said or any(key in said for key in values)


def test_every_formula_says_what_it_gives():
    assert all(one.says for one in FORMULAS.values())
