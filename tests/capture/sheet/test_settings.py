"""The limits that a person may set: by their names, and refused where they can't be."""

from __future__ import annotations

import pytest

from capture.sheet.settings import Settings, with_setting


def test_a_setting_is_changed_by_its_name():
    changed = with_setting(Settings(), "spark_out.limit", "0.0008")

    assert changed.spark_out.limit == 0.0008
    assert changed.warm == Settings().warm


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("spark_out.limt", "1", "did you mean spark_out.limit"),
        ("moon", "1", "no such setting"),
        ("spark_out.limit", "small", "due a length"),
        ("spark_out.limit", "-1", "due a length above 0"),
        ("spark_out.limit", "nan", "due a length above 0"),
        ("spark_out.confidence", "95", "between 0.5 and 1"),
        ("passes.find", "maybe", "true or false"),
    ],
)
def test_a_wrong_setting_is_refused_with_what_was_due(key: str, value: str, said: str):
    with pytest.raises(ValueError, match=said):
        with_setting(Settings(), key, value)
