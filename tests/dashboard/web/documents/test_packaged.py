from __future__ import annotations

import re
from pathlib import Path

import pytest
from fastapi import FastAPI
from plotly.offline import get_plotlyjs_version

from dashboard.views.elements.figure import figures
from dashboard.web.documents.packaged import drawer, head, lay_packaged

ROOT = Path(__file__).parents[4]
FOLDER = ROOT / "dashboard" / "packaged"
FOLDERS = (FOLDER, ROOT / "capture" / "report" / "fonts")
ADDRESS = re.compile(r"/packaged/[0-9a-f]{12}/[\w.-]+")


def found(name):
    """The file of that name in the one folder that has it."""
    (path,) = (folder / name for folder in FOLDERS if (folder / name).exists())
    return path


@pytest.fixture
def get(asked):
    """Asks for a file of the folder."""
    server = FastAPI()
    lay_packaged(server)
    return lambda address: asked(server, address)


def test_every_address_that_a_document_names_is_answered_and_kept_for_good(get):
    addresses = set(ADDRESS.findall(head() + drawer()))

    assert len(addresses) == 4
    for address in addresses:
        answer = get(address)
        assert answer.body == found(Path(address).name).read_bytes()
        assert "immutable" in answer.headers["cache-control"]


@pytest.mark.parametrize("name", ["README.md", "..%2Fapp.py", "plotly-LICENSE.txt"])
def test_nothing_else_of_the_folder_is_answered(get, name):
    assert get(f"/packaged/{'0' * 12}/{name}").status == 404


def test_a_file_is_not_answered_under_the_print_of_another(get):
    assert get(f"/packaged/{'0' * 12}/letters.woff2").status == 404


def test_the_library_that_draws_is_of_the_version_that_the_figures_are_made_for():
    said = (FOLDER / "plotly-basic.min.js").read_text("utf-8")[:200]

    assert f"v{get_plotlyjs_version()}\n" in said


def test_every_figure_is_of_a_kind_that_the_library_holds():
    """The basic bundle draws scatter, bar and pie (its README); a trace that names no kind is a scatter."""
    kinds = {
        trace.get("type", "scatter")
        for theme in figures().values()
        for one in theme.values()
        for trace in one["data"]
    }

    assert kinds == {"scatter"}


def test_each_file_has_its_licence_and_its_origin_beside_it():
    about = (FOLDER / "README.md").read_text("utf-8")
    served = [
        path.name for folder in FOLDERS for path in folder.iterdir() if path.suffix in {".js", ".woff2"}
    ]

    assert len(served) == 4
    for name in served:
        (licence,) = re.findall(
            rf"^\| `{re.escape(name)}` .*`([\w-]+-LICENSE\.txt)` \|$", about, re.MULTILINE
        )
        text = found(licence).read_text("utf-8")
        assert "MIT License" in text or "SIL OPEN FONT LICENSE Version 1.1" in text
