import json

import pytest
from click.testing import CliRunner

from capture.analysis.handbook import FORMULAS
from capture.commands.formula import formula_command


def run(*words: str):
    return CliRunner().invoke(formula_command, words, standalone_mode=False)


def test_without_a_name_all_formulas_are_listed():
    listed = run().output

    assert all(name in listed for name in FORMULAS)
    assert json.loads(run("--json").output).keys() == FORMULAS.keys()


@pytest.mark.parametrize("name", sorted(FORMULAS))
def test_with_a_name_alone_it_says_what_is_asked_for(name):
    said = run(name).output

    assert all(key in said for key in FORMULAS[name].parameters)


def test_the_answer_is_for_people_or_for_programs():
    # ISO 286-1, table of standard tolerances: IT6 over 50 up to 80 mm is 19 µm.
    assert run("grade", "nominal=55", "grade=6").output == "0.019\n"
    assert json.loads(run("grade", "nominal=55", "grade=6", "--json").output) == pytest.approx(0.019)


@pytest.mark.parametrize("words", [("no-such",), ("grade", "nominal"), ("grade", "nominal=55")])
def test_a_wrong_request_is_one_sentence(words):
    assert run(*words).exception.exit_code == 2
