"""What is kept of a taught gauge: in the folder alone, over nothing, and on a sheet that stays right."""

from __future__ import annotations

import tomllib

import pytest

from capture.sheet.reader import read_sheet
from dashboard.setup.save_gauge import GaugeSaver, SaveRequest
from dashboard.setup.sheet_api import SheetApi
from dashboard.sources.feed import Feed
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.sources.scene_store import SceneStore
from dashboard.views.registry import draw
from dashboard.views.setup.in_sight import GaugeAddress
from dashboard.web.api import LiveApi

SHEET = '[job]\nname = "Sleeve"  # kept\nunits = "in"\n'
PORT = GaugeAddress(
    "1-0", {"serial": "usb:0403:6001:A1"}, "/dev/ttyUSB0", "", "", names=frozenset({"/dev/ttyUSB0"})
)
AIR = GaugeAddress("1-1", {"ble": "AA:BB"}, "AA:BB", "Gauge 7", "", names=frozenset({"AA:BB", "Gauge 7"}))
FILE = "# a dialect\n"
LINE = {"baud": 4800, "bytesize": 7, "parity": "E", "stopbits": 1}


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "sleeve.toml").write_text(SHEET, "utf-8")
    return tmp_path


@pytest.fixture
def keeper(folder):
    library = RecordingLibrary(folder)
    return GaugeSaver(library, SheetApi(library, LiveApi(Feed(folder, SceneStore(draw), {}))))


def keep(**more):
    return SaveRequest(**{"name": "mike", "measures": "diameter", **more})


def files(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_taught_gauge_is_a_file_and_lines_in_the_sheets_units(keeper, folder):
    told = keeper.taught(keep(step="0.001", unit="mm", sheet="sleeve.toml"), PORT, "", FILE, LINE)
    (gauge,) = read_sheet((folder / "sleeve.toml").read_text("utf-8"), "sleeve.toml")[0].gauges

    assert told["ok"]
    assert (folder / "mike.dialect.toml").read_text("utf-8") == FILE
    assert gauge.link == {"serial": "usb:0403:6001:A1", "baud": 4800, "bytesize": 7, "parity": "E"}
    assert gauge.resolution == pytest.approx(0.001)  # the sheet is in inches, the job in mm


def test_without_a_sheet_the_lines_are_told_and_only_the_file_is_written(keeper, folder):
    told = keeper.taught(keep(), PORT, "", FILE, LINE)

    assert files(folder) == ["mike.dialect.toml", "sleeve.toml"]
    assert (folder / "sleeve.toml").read_text("utf-8") == SHEET
    assert tomllib.loads(told["lines"])["gauge"][0]["dialect"] == "mike.dialect.toml"
    assert told["sheet"] == ""


def test_a_gauge_taught_over_the_air_names_its_value_as_a_stream(keeper):
    told = keeper.taught(keep(), AIR, "FFE1", FILE, {})

    assert tomllib.loads(told["lines"])["gauge"][0]["link"] == {
        "ble": "AA:BB",
        "value": "FFE1",
        "bytes": True,
    }


def test_a_value_that_tells_its_unit_needs_no_file(keeper, folder):
    told = keeper.keep(keep(sheet="sleeve.toml"), AIR, {"ble": "AA:BB", "value": "2C0A"}, "")

    assert told["ok"]
    assert files(folder) == ["sleeve.toml"]
    assert "dialect" not in told["lines"]


@pytest.mark.parametrize("there", ["file", "link", "folder"])
def test_nothing_is_written_over_whatever_it_is(keeper, folder, there):
    path = folder / "mike.dialect.toml"
    if there == "file":
        path.write_text("mine", "utf-8")
    elif there == "link":
        path.symlink_to(folder / "elsewhere")
    else:
        path.mkdir()
    told = keeper.taught(keep(sheet="sleeve.toml"), PORT, "", FILE, LINE)

    assert "exists and is not overwritten" in told["fields"]["name"]
    assert not (folder / "elsewhere").exists()
    assert (folder / "sleeve.toml").read_text("utf-8") == SHEET


def test_a_temperature_is_somethings(keeper, folder):
    wrong = keeper.taught(keep(measures="temperature"), PORT, "", FILE, LINE)
    right = keeper.taught(keep(measures="temperature", part="master"), PORT, "", FILE, LINE)

    assert wrong["fields"] == {"part": "say whose temperature it is"}
    assert tomllib.loads(right["lines"])["gauge"][0]["part"] == "master"


@pytest.mark.parametrize(
    ("sheet", "why"),
    [
        ("other.toml", "other.toml"),
        ("../sleeve.toml", "no sheet"),
        ("wrong.toml", "nme: no such key"),
        ("infeed.toml", "grinder.dial: missing"),
    ],
)
def test_a_sheet_that_is_not_there_or_not_right_is_left_as_it_is(keeper, folder, sheet, why):
    (folder / "wrong.toml").write_text("[job]\nnme = 3\n", "utf-8")
    (folder / "infeed.toml").write_text(SHEET, "utf-8")
    before = files(folder)
    told = keeper.taught(keep(measures="infeed", sheet=sheet), PORT, "", FILE, LINE)

    assert not told["ok"]
    assert why in told["fields"]["sheet"]
    assert files(folder) == before


def test_a_name_that_the_sheet_has_already_is_refused_before_anything_is_written(keeper, folder):
    other = '\n[[gauge]]\nname = "mike"\nmeasures = "bore"\nlink = { serial = "/dev/ttyS9" }\n'
    (folder / "sleeve.toml").write_text(SHEET + other, "utf-8")
    told = keeper.taught(keep(sheet="sleeve.toml"), PORT, "", FILE, LINE)

    assert "two gauges of this name" in told["fields"]["sheet"]
    assert files(folder) == ["sleeve.toml"]


def test_a_folder_that_cannot_be_written_to_is_said(keeper, folder, monkeypatch):
    def full(_number):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    told = keeper.taught(keep(), PORT, "", FILE, LINE)

    assert "No space left on device" in told["fields"]["name"]
    assert files(folder) == ["sleeve.toml"]


def test_a_dialect_is_not_offered_as_a_sheet(keeper, folder):
    (folder / "mike.dialect.toml").write_text(FILE, "utf-8")

    assert keeper.sheets() == ["sleeve.toml"]
