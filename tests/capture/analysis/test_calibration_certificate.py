"""A digital calibration certificate in both forms of its published schema (D-SI 1 and 2), and hostile XML."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.analysis.calibration_certificate import BadCertificate, overdue, read_certificate

ONE = (
    "<si:expandedUnc><si:uncertainty>0.5</si:uncertainty>"
    "<si:coverageFactor>2</si:coverageFactor></si:expandedUnc>"
)
TWO = (
    "<si:measurementUncertaintyUnivariate><si:expandedMU><si:valueExpandedMU>0.5</si:valueExpandedMU>"
    "<si:coverageFactor>2</si:coverageFactor></si:expandedMU></si:measurementUncertaintyUnivariate>"
)
THREE = (
    "<si:measurementUncertaintyUnivariate><si:standardMU><si:valueStandardMU>0.25</si:valueStandardMU></si:standardMU>"
    "</si:measurementUncertaintyUnivariate>"
)


def certificate(uncertainty=ONE, unit=r"\micro\metre", value="55000.3", head="", day="2026-05-05"):
    return f"""<?xml version="1.0" encoding="UTF-8"?>{head}
<dcc:digitalCalibrationCertificate xmlns:dcc="https://ptb.de/dcc" xmlns:si="https://ptb.de/si"
 schemaVersion="3.3.0">
<dcc:administrativeData>
<dcc:coreData><dcc:uniqueIdentifier>A-17</dcc:uniqueIdentifier>
<dcc:beginPerformanceDate>2026-05-04</dcc:beginPerformanceDate><dcc:endPerformanceDate>{day}</dcc:endPerformanceDate>
</dcc:coreData>
<dcc:items><dcc:item><dcc:name><dcc:content lang="en">setting ring 55</dcc:content></dcc:name>
<dcc:identifications><dcc:identification><dcc:issuer>owner</dcc:issuer><dcc:value>R-9</dcc:value></dcc:identification>
</dcc:identifications></dcc:item></dcc:items></dcc:administrativeData>
<dcc:measurementResults><dcc:measurementResult><dcc:results><dcc:result><dcc:data><dcc:quantity>
<dcc:name><dcc:content lang="en">diameter</dcc:content></dcc:name>
<si:real><si:value>{value}</si:value><si:unit>{unit}</si:unit>{uncertainty}</si:real>
</dcc:quantity></dcc:data></dcc:result></dcc:results></dcc:measurementResult></dcc:measurementResults>
</dcc:digitalCalibrationCertificate>""".encode()


@pytest.mark.parametrize("uncertainty", [ONE, TWO, THREE])
def test_the_length_and_its_standard_uncertainty_are_read_in_each_form(uncertainty):
    """U 0.5 µm with k = 2 is u 0.25 µm (JCGM 100, 6.2)."""
    found = read_certificate(certificate(uncertainty))

    assert (found.number, found.item, found.marks, found.performed) == (
        "A-17",
        "setting ring 55",
        ("R-9",),
        "2026-05-05",
    )
    assert found.lengths[0].value == pytest.approx(55.0003)
    assert found.lengths[0].u == pytest.approx(0.00025)
    assert found.lengths[0].name == "diameter"


@pytest.mark.parametrize(
    ("unit", "value", "mm"),
    [(r"\metre", "0.055", 55.0), (r"\milli\metre", "55", 55.0), (r"\nano\metre", "5.5e7", 55.0)],
)
def test_units_of_length_become_millimetres(unit, value, mm):
    assert read_certificate(certificate(unit=unit, value=value)).lengths[0].value == pytest.approx(mm)


def test_what_is_no_length_is_left_out_and_none_is_made_up():
    assert read_certificate(certificate(unit=r"\degreecelsius")).lengths == ()
    assert read_certificate(certificate("")).lengths[0].u is None
    assert read_certificate(certificate(value="nan")).lengths == ()


BOMB = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
FILE = '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>'


@pytest.mark.parametrize(
    "body",
    [
        certificate(head=BOMB, value="&b;"),
        certificate(head=FILE, value="&a;"),
        certificate(head="<!DOCTYPE x>"),
        b"<other/>",
        b"not xml",
        b"",
        certificate(day="yesterday"),
        b"<a>" * 100000,
    ],
)
def test_entities_and_what_is_no_certificate_are_refused(body):
    with pytest.raises(BadCertificate):
        read_certificate(body)


@given(st.binary(max_size=300), st.integers(0, 1500))
def test_damaged_bytes_are_read_or_refused_and_nothing_else(junk, at):
    good = certificate()
    try:
        read_certificate(good[:at] + junk + good[at + len(junk) :])
    except BadCertificate as error:
        assert str(error)  # noqa: PT017 - either way is right


@given(st.dates(min_value=date(2000, 1, 1), max_value=date(2100, 1, 1)), st.integers(-400, 400))
def test_a_day_is_overdue_from_the_day_after(due, days):
    today = date.fromordinal(due.toordinal() + days)

    assert overdue(due.isoformat(), today) == (days > 0)
