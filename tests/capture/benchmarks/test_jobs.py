"""What the accuracy bench says of coached jobs and of lobes."""

from __future__ import annotations

from capture.benchmarks.jobs import measures


def test_each_kind_of_job_has_its_figures():
    found = measures(quick=True, progress=lambda _words: None)
    rows = [row for name in ("coached one place", "lobes two-point") for row in found[name]()]

    assert [row.what for row in rows if row.most is not None] == [
        "coached one place: undersize",
        "coached one place: more passes than an oracle",
        "lobes two-point: not seen and not named",
    ]
    assert rows[0].ours >= 50.0
