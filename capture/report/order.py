"""The order to the plater as a page that prints: what to strip, deposit, bake and measure."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from capture.report.letters import face
from capture.sheet.job import Job
from capture.text.lengths import size
from capture.text.printable import undirected


class NoOrder(ValueError):
    """The plan has no order; why."""


def order_page(job: Job, planned: Mapping[str, Any], *, version: str, written: str) -> str:
    """One HTML page that refers to nothing outside itself.

    Args:
        job: The job sheet.
        planned: What `capture.analysis.steps.plating_plan.plan` found; its sentences in the units of the job.
        version: Of this program.
        written: When, for a person.

    Raises:
        NoOrder: The plan has no order; its warnings say why.
    """
    if planned["order"] is None:
        raise NoOrder("; ".join(planned["warnings"] or planned["blocks"]) or "the plan has no order")
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - only papers need it

    environment = Environment(
        loader=PackageLoader("capture.report", "."), autoescape=True, undefined=StrictUndefined
    )
    environment.filters["size"] = partial(_size, units=job.units)
    template = environment.get_template("order.html.jinja")
    order = planned["order"]
    return undirected(
        template.render(
            face=face(), job=job, shaft=job.shaft, plan=planned, order=order, version=version, written=written
        )
    )


def _size(value: float | None, places: int = 4, *, units: Any) -> str:
    return size(value, units, places)
