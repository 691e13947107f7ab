"""The file in which machines are remembered: text in, text out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.analysis.grind.machine_memory import (
    BadMemory,
    agreed,
    agreement,
    key_of,
    learnt,
    memories_of,
    text_of,
    with_memory,
)
from capture.sheet.job import Known

SHARES = st.floats(0.05, 0.95)
U = st.floats(0.01, 0.2)


@given(
    share=SHARES,
    u=U,
    jobs=st.integers(0, 99),
    name=st.text(st.characters(codec="utf-8"), min_size=1, max_size=20),
)
def test_what_is_written_reads_back(share: float, u: float, jobs: int, name: str):
    """Law: a memory survives its file, to six digits, whatever the machine is called."""
    written = {name: Known(share=share, u_share=u, jobs=jobs)}
    read = memories_of(text_of(written), "machines.toml")

    assert list(read) == [name]
    assert read[name].share == pytest.approx(share, rel=1e-5)
    assert read[name].jobs == jobs


@given(old=SHARES, new=SHARES, u_old=U, u_new=U)
def test_what_is_learnt_lies_between_and_is_no_surer_than_machines_stay_the_same(
    old: float, new: float, u_old: float, u_new: float
):
    found = learnt(Known(share=old, u_share=u_old, jobs=3), Known(share=new, u_share=u_new))

    assert found.share is not None
    assert min(old, new) - 1e-9 <= found.share <= max(old, new) + 1e-9
    assert found.u_share is not None
    assert found.u_share >= 0.02
    assert found.jobs == 4


def test_what_a_job_did_not_show_stays_remembered():
    before = Known(share=0.5, u_share=0.05, obeys=0.8, u_obeys=0.05, jobs=1)

    assert learnt(before, Known(share=0.6, u_share=0.05)).obeys == 0.8


def test_agreement_is_in_standard_uncertainties():
    """(0.70 - 0.50) / sqrt(0.03² + 0.04² + 0.05²) = 2.83, by hand."""
    (found,) = agreement(Known(share=0.5, u_share=0.04), Known(share=0.7, u_share=0.03))

    assert found.apart == pytest.approx(2.83, abs=0.01)


def test_wear_scatter_and_heat_are_held_against_what_is_remembered():
    """By hand: 0.05 / sqrt(0.02² + 0.02² + 0.01²) = 1.67; ln 2 / (√2 · 0.25) = 1.96.

    A part that gets warm where 1 of 8 did, with 1 in 2 thrown in: (1 - 0.2) / sqrt(0.2 · 0.8) = 2.
    """
    before = Known(gain=0.95, u_gain=0.02, scatter=0.0005, heat=0.125, jobs=8)
    found = {
        one.what: one
        for one in agreement(before, Known(gain=0.90, u_gain=0.02, scatter=0.0010, heat=1.0, jobs=1))
    }

    assert found["gain"].apart == pytest.approx(1.67, abs=0.01)
    assert found["scatter"].apart == pytest.approx(1.96, abs=0.01)
    assert found["heat"].apart == pytest.approx(2.0, abs=0.01)
    assert agreed(found["scatter"]) == "readings scatter 1.0 µm (earlier jobs 0.5 µm: agrees)"
    assert "(earlier jobs 95 %: agrees)" in agreed(found["gain"])


def test_scatter_and_heat_are_means_over_the_jobs():
    before = Known(scatter=0.0006, heat=0.5, jobs=2)
    found = learnt(before, Known(scatter=0.0009, heat=0.2, jobs=1))

    assert (found.scatter, found.heat) == (pytest.approx(0.0007), pytest.approx(0.4))
    assert learnt(before, Known(jobs=1)).heat == 0.5


def test_the_sheet_begins_with_what_is_remembered_of_its_machine_and_wheel():
    memories = {key_of("no. 2", "60 J"): Known(share=0.5, u_share=0.05, jobs=2)}
    sheet = {"grinder": {"dial": "radius", "name": "no. 2", "wheel": "60 J"}}

    assert with_memory(sheet, memories)["grinder"]["known"] == {"share": 0.5, "u_share": 0.05, "jobs": 2}
    assert "known" not in sheet["grinder"]
    other = {"grinder": {"dial": "radius", "name": "no. 2", "wheel": "80 M"}}
    assert with_memory(other, memories) == other
    assert with_memory({"job": {}}, memories) == {"job": {}}


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("share =", "not TOML"),
        ("share = 0.5", "due a table"),
        ("[a]\nbite = 0.5", "no such key"),
        ('[a]\nshare = "half"', "due a number"),
        ("[a]\nshare = -1", "due a number"),
    ],
)
def test_a_file_that_is_no_memory_is_refused_with_its_place(text: str, why: str):
    with pytest.raises(BadMemory, match=why) as refused:
        memories_of(text, "machines.toml")
    assert "machines.toml" in str(refused.value)
