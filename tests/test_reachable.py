"""What no command and no page reaches is not shipped."""

import ast
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[1]

ALLOWED = {
    "playback": "a played instrument: how the guide says that a new dialect is tried without a gauge",
    "contrast": "the ratio of WCAG 2.2 that the tests hold the colours to",
    "at_stations": "the clearance place by place, which the check cases of a fit ask for",
    "simulate": "a simulation of a fixed number of trials, which the examples of JCGM 101 ask for",
    "simulate_until_steady": "the adaptive procedure of JCGM 101, 7.9, which its examples ask for",
    "propagate": "the law of propagation in matrix form, which GUM H.2 asks for",
    "covariance_of_means": "the same",
    "correlations_of": "the same",
    "sensitivities_of": "the same",
    "one_way": "the analysis of variance that the NIST data sets ask for",
    "replay_as_decided": "the state after every event, by which the tests hold live work to a replay",
}
"""Public names that only tests use, each with the reason why it stands."""


def shipped() -> dict[Path, ast.Module]:
    return {
        path: ast.parse(path.read_text("utf-8"))
        for part in ("capture", "dashboard")
        for path in (ROOT / part).rglob("*.py")
    }


def only_tests_use(modules: dict[Path, ast.Module]) -> set[str]:
    """Public functions and classes whose name no shipped code mentions beyond their definition."""
    used: Counter[str] = Counter()
    for module in modules.values():
        for node in ast.walk(module):
            if isinstance(node, ast.Name):
                used[node.id] += 1
            elif isinstance(node, ast.Attribute):
                used[node.attr] += 1
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                used.update(node.value.replace("[", " ").replace("]", " ").replace("|", " ").split()[:8])
    return {
        one.name
        for module in modules.values()
        for one in module.body
        if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
        and not one.name.startswith("_")
        and not one.name.endswith("_command")  # the command line finds these by their name
        and not used[one.name]
    }


def test_every_public_function_is_reached_from_a_command_or_a_page():
    assert only_tests_use(shipped()) - ALLOWED.keys() == set()


def test_what_is_allowed_is_still_unused():
    assert ALLOWED.keys() <= only_tests_use(shipped())


def test_a_function_that_nothing_calls_is_found():
    modules = {Path("one.py"): ast.parse("def lonely(): ...\ndef used(): ...\nused()\n")}

    assert only_tests_use(modules) == {"lonely"}
