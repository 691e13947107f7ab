"""Cautions against the rules that they quote."""

from __future__ import annotations

import pytest

from capture.metrology.cautions import (
    CAUTIONS,
    CR6_ACTION_LEVEL,
    CR6_EXPOSURE_LIMIT,
    CYLINDRICAL_GUARD_EXPOSURE,
    GUARD_EXPOSURE_START,
    caution,
)


def test_hexavalent_chromium_has_the_limits_of_the_rule():
    """SAFE-01, published: 29 CFR 1910.1026: 5 µg/m3, action level 2.5 µg/m3."""
    assert (CR6_EXPOSURE_LIMIT, CR6_ACTION_LEVEL) == (5.0, 2.5)
    assert "limit 5 µg/m3, action level 2.5 µg/m3" in caution("hexavalent chromium").text


def test_a_cylindrical_guard_leaves_at_most_half_the_wheel_open():
    """SAFE-02, published: 29 CFR 1910.215(b): 180 degrees."""
    assert CYLINDRICAL_GUARD_EXPOSURE == 180.0
    assert "180°" in caution("wheel guard").text


@pytest.mark.parametrize(
    ("key", "text"),
    [("guard opening", "65°"), ("ring test", "before it is mounted"), ("wheel speed", "marked on the wheel")],
)
def test_what_is_from_memory_says_so(key, text):
    """SAFE-03, from memory: 29 CFR 1910.215(b) and (d)."""
    assert GUARD_EXPOSURE_START == 65.0
    assert text in caution(key).text
    assert caution(key).basis == "from memory"


def test_cautions_defer_to_local_codes_and_licensed_platers():
    text = caution("hexavalent chromium").text

    assert "licensed platers" in text
    assert "Local codes" in text


def test_every_caution_has_its_own_key_and_a_source():
    assert len({each.key for each in CAUTIONS}) == len(CAUTIONS)
    assert all(each.source and each.text for each in CAUTIONS)


def test_an_unknown_caution_is_refused():
    with pytest.raises(ValueError, match="no caution 'noise'"):
        caution("noise")
