"""The file in which machines are remembered: text in, text out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.folds.machine import (
    BadMemory,
    agreement,
    key_of,
    learnt,
    memories_of,
    text_of,
    with_memory,
)
from capture.sheet import Known

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
