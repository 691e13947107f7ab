"""The job sheet: what it means, and how every fault in it is named."""

from __future__ import annotations

import re
from copy import deepcopy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.sheet.faults import BadSheet
from capture.sheet.reader import job_of, read_sheet

SLEEVE = """
[job]
name = "Jig-borer spindle sleeve"
units = "mm"
[fit]
nominal = 55.0
clearance = { aim = 0.005, least = 0.003, most = 0.008 }
engagement = { length = 160.0, from = 20.0, to = 120.0 }
[bore]
material = "grey cast iron"
stations = [10, 40, 70]
angles = [0, 60, 120]
[shaft]
material = "steel 4140"
stations = [20, 80]
angles = [0, 90]
plating = { least = 0.10, most = 0.20, stock = 0.06, runout = 0.01 }
[grinder]
dial = "radius"
swivel = { pivot = 140.0, reading_at = 740.0, toward_wheel = "+" }
[[gauge]]
name = "mike"
measures = "diameter"
link = { serial = "/dev/ttyUSB0", baud = 9600 }
resolution = 0.001
"""


def faults_of(text: str) -> list[str]:
    with pytest.raises(BadSheet) as caught:
        read_sheet(text, "sleeve.toml")
    return caught.value.faults


def test_a_whole_sheet_becomes_plain_data_in_millimetres():
    job, plain = read_sheet(SLEEVE, "sleeve.toml")

    assert job.name == "Jig-borer spindle sleeve"
    assert job.fit is not None
    assert job.fit.clearance.aim == 0.005
    assert job.fit.engagement is not None
    assert (job.fit.engagement.start, job.fit.engagement.stop) == (20.0, 120.0)
    assert job.bore is not None
    assert job.bore.places[:4] == ((10, 0), (10, 60), (10, 120), (40, 0))
    assert job.gauges[0].link == {"serial": "/dev/ttyUSB0", "baud": 9600}
    assert job_of(plain) == job


def test_an_inch_sheet_means_the_same_as_its_millimetre_twin():
    """Law: mm and inch give the same answer (the international inch is 25.4 mm exactly)."""
    twin = """
    [job]
    name = "sleeve"
    units = "{units}"
    [fit]
    nominal = {nominal}
    clearance = {{ aim = {aim}, least = {least}, most = {most} }}
    [shaft]
    stations = [{z}]
    [[gauge]]
    name = "mike"
    measures = "diameter"
    unit = "mm"
    resolution = {step}
    link = {{ serial = "COM3" }}
    """
    inch = twin.format(units="in", nominal=2.0, aim=0.0002, least=0.0001, most=0.0003, z=3.0, step=0.0001)
    metric = twin.format(
        units="mm", nominal=50.8, aim=0.00508, least=0.00254, most=0.00762, z=76.2, step=0.00254
    )

    one, _ = read_sheet(inch, "inch.toml")
    two, _ = read_sheet(metric, "mm.toml")

    assert one.fit is not None
    assert two.fit is not None
    assert one.fit.nominal == pytest.approx(two.fit.nominal, rel=1e-15)
    assert one.fit.clearance.aim == pytest.approx(two.fit.clearance.aim, rel=1e-12)
    assert one.shaft is not None
    assert one.shaft.stations[0] == pytest.approx(76.2, rel=1e-15)
    assert one.gauges[0].resolution == pytest.approx(0.00254, rel=1e-12)


def test_every_fault_is_named_at_once():
    """A sheet is refused before anything is opened, with all that is wrong in it."""
    found = faults_of("""
    [job]
    unit = "mm"
    [fit]
    nominal = -1
    clearance = { aim = 0.009, least = 0.003, most = 0.008 }
    [shaft]
    stations = [20, "eighty"]
    [[gauge]]
    name = "mike"
    measure = "diameter"
    """)

    text = "\n".join(found)
    assert "sleeve.toml: job.name: missing, due a text" in found
    assert "sleeve.toml: job.unit: no such key; did you mean units?" in found
    assert "fit.nominal: came -1, due a length above 0" in text
    assert "least <= aim <= most" in text
    assert "shaft.stations: came [20, 'eighty'], due a list of different numbers" in text
    assert "gauge 'mike'.measures: missing" in text
    assert "gauge 'mike'.measure: no such key; did you mean measures?" in text
    assert "gauge 'mike'.link: missing" in text


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ('dial = "radius"', 'dial = "both"', "grinder.dial: came 'both', due one of radius, diameter"),
        ('dial = "radius"', "", "grinder.dial: missing"),
        ("reading_at = 740.0", "reading_at = 140.0", "due a place away from the pivot"),
        ("least = 0.10, most = 0.20", "least = 0.30, most = 0.20", "due least not above most"),
        ('{ serial = "/dev/ttyUSB0", baud = 9600 }', "{ baud = 9600 }", "due exactly one of serial, ble"),
        ("baud = 9600", "baud = -3", "baud: came -3, due a whole number"),
        ('name = "mike"', 'name = "desk"', "due a short name that is not person, desk or daemon"),
        ("resolution = 0.001", "resolution = nan", "resolution: came nan, due a number"),
        ('material = "steel 4140"', "expansion = 11.4", "due a coefficient in 1/K"),
        ("[grinder]", "[grinding]", "grinding: no such key; did you mean grinder?"),
    ],
)
def test_a_fault_says_where_what_came_and_what_was_due(before: str, after: str, said: str):
    assert before in SLEEVE

    assert said in "\n".join(faults_of(SLEEVE.replace(before, after)))


def test_two_gauges_on_one_port_are_refused():
    second = (
        SLEEVE + '[[gauge]]\nname = "probe"\nmeasures = "temperature"\nlink = { serial = "/dev/ttyUSB0" }\n'
    )

    assert "serial /dev/ttyUSB0 is already the way to 'mike'" in "\n".join(faults_of(second))


def test_a_pedal_says_words():
    text = SLEEVE + '[[pedal]]\nname = "foot"\nkeyboard = "foot switch"\nkeys = { KEY_B = "pass 0" }\n'

    job, _ = read_sheet(text, "sleeve.toml")

    assert job.pedals[0].keys == {"KEY_B": "pass 0"}
    assert "due words by key" in "\n".join(faults_of(text.replace('{ KEY_B = "pass 0" }', "{}")))


def test_an_infeed_gauge_needs_the_habit_of_the_dial():
    text = SLEEVE.replace(
        '[grinder]\ndial = "radius"\nswivel = { pivot = 140.0, reading_at = 740.0, toward_wheel = "+" }', ""
    )
    text += '[[gauge]]\nname = "saddle"\nmeasures = "infeed"\nlink = { serial = "COM4" }\n'

    assert any("grinder.dial: missing" in fault for fault in faults_of(text))


def test_a_sheet_that_is_not_toml_is_refused_with_its_line():
    (fault,) = faults_of("[job\nname = 3")

    assert fault.startswith("sleeve.toml: not TOML:")
    assert "line 1" in fault


def test_a_recording_of_a_newer_sheet_is_still_read():
    """What was measured is worth more than the form."""
    _, plain = read_sheet(SLEEVE, "sleeve.toml")
    newer = deepcopy(plain)
    newer["moon"] = {"phase": "full"}
    newer["fit"]["weather"] = "damp"

    assert job_of(newer) == job_of(plain)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
KEYS = ("job", "fit", "bore", "shaft", "grinder", "gauge", "settings")


@given(st.dictionaries(st.sampled_from(KEYS), JSON))
def test_no_header_however_odd_raises(plain: dict[str, Any]):
    assert job_of(plain).units in {"mm", "in"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            '[job]\nname = "x"\n[shaft]\nmaterial = "steel 4104"\n',
            "shaft.material: came 'steel 4104', due one that is known",
        ),
        (
            '[job]\nname = "x"\n[[gauge]]\nname = "a"\nmeasures = "bore"\nlink = {}\n',
            "due exactly one of serial",
        ),
        ('[job]\nname = "x"\n[bore]\nstations = [' + "9" * 400 + "]\n", "bore.stations"),
        (
            f'[job]\nname = "x"\n[bore]\nstations = {list(range(2000))}\nangles = {list(range(2000))}\n',
            "came '2000 stations with 2000 angles', due at most 10000 places",
        ),
        ('[job]\nname = "x"\nodd = ' + "[" * 3000, "not TOML"),
        ('{"kind":"header","format":2}\n', "looks like a recording; a job sheet is due"),
        ('[job]\nname = "x"\nodd = ' + "9" * 6000, "not TOML"),
    ],
)
def test_what_would_stop_a_capture_later_is_refused_at_once(text: str, said: str):
    """Found by the fuzzer of sheets."""
    with pytest.raises(BadSheet, match=re.escape(said)):
        read_sheet(text, "sleeve.toml")


def test_a_material_that_nobody_knows_is_taken_with_its_expansion():
    job, _ = read_sheet(
        '[job]\nname = "x"\n[shaft]\nmaterial = "meteorite"\nexpansion = 11e-6\n', "sleeve.toml"
    )

    assert job.shaft is not None
    assert job.shaft.expansion == 11e-6


def test_a_header_with_two_long_lists_does_not_fill_the_memory():
    """A hostile recording of a megabyte could else ask for ten thousand million places."""
    job = job_of(
        {"job": {"name": "x"}, "bore": {"stations": list(range(100_000)), "angles": list(range(100_000))}}
    )

    assert job.bore is not None
    assert job.bore.places == ()


def test_of_a_hundred_thousand_faults_a_person_reads_the_first_fifty():
    with pytest.raises(BadSheet) as refused:
        read_sheet("".join(f"k{number} = 1\n" for number in range(1000)), "sheet.toml")

    assert len(refused.value.found) == 1001
    assert len(str(refused.value).splitlines()) == 51
    assert str(refused.value).endswith("and 951 faults more")


@pytest.mark.timeout(30)
def test_thousands_of_gauges_are_refused_and_of_a_recording_the_first_are_taken():
    """Found by attack: what is worked out for each pair of 9000 gauges took more than a minute."""
    gauge = {"name": "", "measures": "diameter", "link": {"serial": "/dev/x"}, "resolution": 0.001}
    plain = {"job": {"name": "x"}, "gauge": [{**gauge, "name": f"g{number}"} for number in range(9000)]}
    text = '[job]\nname = "x"\n' + "".join(f'[[gauge]]\nname = "g{number}"\n' for number in range(300))

    assert len(job_of(plain).gauges) == 256
    with pytest.raises(BadSheet, match="gauge: came '300 tables', due at most 256"):
        read_sheet(text, "sheet.toml")
