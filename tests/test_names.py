"""Names of the shipped code: one class a name, and standard terms in the place of old metaphors."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
METAPHORS = frozenset(
    {"afresh", "clerk", "desk", "ear", "lookback", "pile", "roads", "scribe", "shelf", "undrawn", "walk"}
)
"""Words of the first versions that have standard names now; as stored values, such as a source, they stay."""


def modules() -> Iterator[tuple[str, ast.Module]]:
    for folder in ("capture", "dashboard"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            yield path.relative_to(ROOT).as_posix(), ast.parse(path.read_text(encoding="utf-8"))


def names_given(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Each name that the code itself gives, with its line: what it only uses is another's."""
    for node in ast.walk(tree):
        match node:
            case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name) | ast.ClassDef(name=name):
                yield node.lineno, name
            case ast.arg(arg=name):
                yield node.lineno, name
            case ast.Name(id=name, ctx=ast.Store()) | ast.Attribute(attr=name, ctx=ast.Store()):
                yield node.lineno, name
            case ast.alias(name=name, asname=asname):
                yield node.lineno, asname or name


def words_of(name: str) -> set[str]:
    """The words that an identifier is made of.

    >>> sorted(words_of("_DecisionEngine"))
    ['decision', 'engine']
    """
    return set(re.findall("[a-z]+", re.sub("([A-Z])", r"_\1", name).lower()))


def test_no_two_public_classes_have_one_name():
    where = defaultdict(list)
    for path, tree in modules():
        for node in tree.body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                where[node.name].append(path)

    assert len(where) > 100
    assert {name: paths for name, paths in where.items() if len(paths) > 1} == {}


def test_no_metaphor_comes_back_as_a_name():
    found = [
        f"{path}:{line}: {name}"
        for path, tree in modules()
        for line, name in names_given(tree)
        if words_of(name) & METAPHORS
    ]

    assert found == []


def test_a_metaphor_is_found_in_every_kind_of_name():
    code = "import a as desk\nclass Clerk:\n    def ear(self, pile):\n        self.walk = roads = 1\n"

    found = {word for _, name in names_given(ast.parse(code)) for word in words_of(name)} & METAPHORS

    assert found == {"desk", "clerk", "ear", "pile", "walk", "roads"}
