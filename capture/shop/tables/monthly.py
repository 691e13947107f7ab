"""The figures of jobs that may change over the months: what each is of, and where it stands in the tables."""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

from msgspec import Struct

What: TypeAlias = Literal["gauge-drifts", "wheel-glazes", "machine-warms", "share-changes", "wear-changes"]


class Figure(Struct, frozen=True):
    """One figure of jobs or gauges that may change over the months."""

    what: What
    thing: str
    """SQL: what it is of beside the machine; empty text for the machine alone."""
    table: str
    column: str


FIGURES: Final = (
    Figure("machine-warms", "''", "store.jobs", "x.growth"),
    Figure("share-changes", "r.wheel", "store.jobs", "x.share"),
    Figure("wear-changes", "r.wheel", "store.jobs", "x.gain"),
    Figure("wheel-glazes", "r.wheel", "store.jobs", "x.bite_loss"),
    Figure("gauge-drifts", "x.gauge", "store.gauges", "x.correction"),
)
DAY: Final = "extract(epoch FROM r.began) / 86400"
"""SQL: days since 1970 when a recording began."""
MONTH: Final = "date_trunc('month', r.began AT TIME ZONE 'UTC')::date"
