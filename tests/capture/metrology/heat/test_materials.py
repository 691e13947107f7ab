"""Expansion coefficients against the handbook tables that they are from."""

from __future__ import annotations

from math import nan, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.heat.materials import MATERIALS, Expansion, expansion

CALLISTER = {
    "steel A36": 11.7,
    "steel 1020": 11.7,
    "steel 1040": 11.3,
    "steel 4140": 12.3,
    "steel 4340": 12.3,
    "stainless 304": 17.2,
    "stainless 440A": 10.2,
    "grey cast iron G1800": 11.4,
    "grey cast iron G3000": 11.4,
    "grey cast iron G4000": 11.4,
    "ductile iron 60-40-18": 11.2,
    "ductile iron 80-55-06": 10.6,
    "aluminium 6061": 23.6,
    "copper C11000": 17.0,
    "brass C26000": 19.9,
    "brass C36000": 20.5,
    "bearing bronze C93200": 18.0,
}
OTHERS = {
    "cemented carbide 94WC-6Co": 4.3,
    "cemented carbide 90WC-10Co": 5.2,
    "phosphor bronze C51000": 17.8,
    "chromium": 6.2,
}


@pytest.mark.parametrize(("name", "millionths"), CALLISTER.items())
def test_metals_expand_as_the_textbook_table_says(name, millionths):
    """CTE-TABLE-01, published: Callister, Appendix B, Table B.6."""
    assert expansion(name).alpha * 1e6 == pytest.approx(millionths, abs=0.05)


@pytest.mark.parametrize(("name", "millionths"), OTHERS.items())
def test_carbide_bronze_and_chromium_expand_as_other_tables_say(name, millionths):
    """CTE-TABLE-02, published: ASM, Thermal Properties of Metals, chapter 2, and common tables."""
    assert expansion(name).alpha * 1e6 == pytest.approx(millionths, abs=0.3)


def test_steel_gauge_blocks_expand_as_their_standard_says():
    """CTE-GB-01, from memory: ISO 3650:1998, (11.5 ± 1.0)e-6; rectangular (GUM 4.3.7)."""
    found = expansion("gauge block steel")

    assert found.alpha == pytest.approx(11.5e-6, rel=1e-12)
    assert found.u == pytest.approx(1.0e-6 / sqrt(3), rel=1e-12)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("Gray Cast Iron", "grey cast iron"),
        ("cast-iron", "grey cast iron"),
        ("4140", "steel 4140"),
        ("AISI 4140", "steel 4140"),
        ("4140 steel", "steel 4140"),
        ("STEEL", "steel"),
        ("aluminum 6061", "aluminium 6061"),
        ("hard chrome", "chromium"),
        ("C93200", "bearing bronze C93200"),
        ("steel gage blocks", "gauge block steel"),
    ],
)
def test_a_sheet_may_spell_a_material_as_people_do(said, meant):
    assert expansion(said).name == meant


@given(st.sampled_from(MATERIALS), st.sampled_from(["upper", "spaces", "hyphens"]))
def test_every_row_is_found_by_its_own_name_however_it_is_written(row, style):
    said = {
        "upper": row.name.upper(),
        "spaces": f"  {row.name.replace('-', ' ')} ",
        "hyphens": row.name.replace(" ", "-"),
    }[style]

    assert expansion(said) is row


def test_every_row_says_where_it_is_from_and_how_well_it_is_known():
    assert all(row.source and row.u > 0.0 for row in MATERIALS)


@pytest.mark.parametrize(
    ("said", "near"), [("stel 4140", "steel 4140"), ("gray iron X", "grey"), ("unobtainium", "steel")]
)
def test_an_unknown_material_is_named_with_what_comes_near(said, near):
    with pytest.raises(ValueError, match=rf"'{said}' is not in the table; near it: .*{near}"):
        expansion(said)


def test_a_coefficient_in_millionths_is_refused():
    with pytest.raises(ValueError, match=r"write 11\.4e-6, not 11\.4"):
        Expansion(alpha=11.4, u=0.5e-6)


@pytest.mark.parametrize(("alpha", "u"), [(nan, 1e-7), (1e-5, -1e-7), (1e-5, nan), (1e-5, 0.5)])
def test_a_coefficient_that_cannot_be_is_refused(alpha, u):
    with pytest.raises(ValueError, match="per kelvin"):
        Expansion(alpha=alpha, u=u)
