"""The results as a Tabular Data Package hold to the published specification, by its reference library."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from capture.cli import tenths
from capture.sessions import opened

RECORDINGS = Path(__file__).parents[3] / "recordings"
GOLDEN = sorted(RECORDINGS.glob("*.jsonl"))


def validated(folder: Path):
    """What `frictionless`, the reference library of the Data Package specification, says of the folder."""
    from frictionless import validate

    return validate(str(folder / "datapackage.json"), type="package")


def written(out: Path, *sources: Path) -> Path:
    answer = CliRunner().invoke(tenths, ["report", *map(str, sources), "-o", str(out)], standalone_mode=False)
    assert answer.return_value == 0, answer.output
    folder = out.with_suffix("")
    with zipfile.ZipFile(out) as archive:
        archive.extractall(folder)
    return folder


@pytest.fixture
def sleeve(tmp_path, fit_sheet_text, fit_recording):
    (tmp_path / "sleeve.toml").write_text(fit_sheet_text, "utf-8")
    fit_recording(tmp_path / "one.jsonl", note="=2+5")
    return tmp_path


def table(folder: Path, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((folder / f"{name}.csv").read_text("utf-8"))))


@pytest.mark.parametrize("path", GOLDEN, ids=lambda path: path.stem)
def test_the_package_of_every_golden_recording_is_valid(path, tmp_path):
    report = validated(written(tmp_path / "job.zip", path))

    assert report.valid, report.flatten(["type", "message"])


def test_the_package_of_a_job_says_what_the_fit_says(sleeve):
    folder = written(sleeve / "sleeve.zip", sleeve / "sleeve.toml")
    answer = CliRunner().invoke(tenths, ["fit", str(sleeve / "sleeve.toml"), "--json"], standalone_mode=False)
    fit = json.loads(answer.output)

    report = validated(folder)
    assert report.valid, report.flatten(["type", "message"])
    (decision,) = table(folder, "decision")
    assert decision["answer"] == fit["decision"]["answer"]
    assert float(decision["least_mm"]) == fit["clearance"]["least"]
    assert float(decision["expanded_mm"]) == fit["uncertainty"]["U"]
    assert [float(row["contribution_mm"]) for row in table(folder, "budget")] == [
        row["part"] for row in fit["budget"]
    ]
    assert len(table(folder, "clearance")) == len(fit["clearance"]["stations"])
    assert len(table(folder, "sizes")) == len(fit["bore"]["stations"]) + len(fit["shaft"]["stations"])
    taken = opened(sleeve / "one.jsonl").state.stations.taken
    assert [float(row["value_mm"]) for row in table(folder, "stations")] == [one.value for one in taken]


def test_every_figure_has_a_unit_and_every_length_says_its_uncertainty_beside_it(sleeve):
    """UCUM codes, as the Unified Code for Units of Measure has them."""
    folder = written(sleeve / "sleeve.zip", sleeve / "sleeve.toml")
    descriptor = json.loads((folder / "datapackage.json").read_text("utf-8"))

    for resource in descriptor["resources"]:
        names = {field["name"] for field in resource["schema"]["fields"]}
        for field in resource["schema"]["fields"]:
            assert field["description"]
            if field["type"] in {"number", "integer"}:
                assert field.get("unit") in {"mm", "s", "deg", "Cel", "1"} or "unit_ucum" in names, field
    assert descriptor["profile"] == "tabular-data-package"
    assert [one["path"] for one in descriptor["sources"]] == ["one.jsonl"]


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("stations.csv", lambda text: text.replace(b",shaft,", b",shaft,x", 1)),
        ("datapackage.json", lambda text: text.replace(b'"number"', b'"length"', 1)),
        ("budget.csv", lambda text: text.replace(b"name,", b"nome,", 1)),
    ],
)
def test_the_check_sees_a_package_that_is_not_as_it_was_written(sleeve, name, change):
    folder = written(sleeve / "sleeve.zip", sleeve / "sleeve.toml")
    body = (folder / name).read_bytes()
    assert change(body) != body
    (folder / name).write_bytes(change(body))

    assert not validated(folder).valid
