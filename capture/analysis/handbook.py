"""Formulas of the trade that a person asks for one at a time, each with the function that answers it.

A pure table: the command `formula` lists it, reads the values that a person gives and prints what the
function answers. What a formula is, its units and its source stand in the docstring of its function.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence
from math import isfinite
from typing import Any, Final, Literal, get_args, get_origin, get_type_hints

from msgspec import Struct

from capture.metrology.bore import bore_gauge
from capture.metrology.fit import decision, inch_fits, limits
from capture.metrology.form import contacts, lobes, roundness, taper
from capture.metrology.gauges import contact, permissible_errors, repeatability
from capture.metrology.grinding import decay
from capture.metrology.grinding.wheel import grinding_data
from capture.metrology.heat import cooling, materials, temperature
from capture.metrology.plating import deposit


class Formula(Struct, frozen=True):
    """One formula: what it is called, what it is of, and the function that works it out."""

    name: str
    subject: str
    function: Callable[..., Any]

    @property
    def says(self) -> str:
        """What it gives, by the first line of its function."""
        return (inspect.getdoc(self.function) or "").split("\n", 1)[0]

    @property
    def parameters(self) -> Mapping[str, inspect.Parameter]:
        """What it asks for, in order."""
        return inspect.signature(self.function).parameters


class BadValue(ValueError):
    """A value that a formula cannot take, as a sentence for the person who gave it."""


FORMULAS: Final = {
    one.name: one
    for one in (
        Formula("tilt", "bore gauge", bore_gauge.tilt_error),
        Formula("tilt-allowed", "bore gauge", bore_gauge.tilt_allowed),
        Formula("offset", "bore gauge", bore_gauge.offset_error),
        Formula("offset-allowed", "bore gauge", bore_gauge.offset_allowed),
        Formula("false-acceptance", "fit", decision.false_acceptance),
        Formula("grade", "fit", limits.standard_tolerance),
        Formula("grade-by-formula", "fit", limits.tolerance_by_formula),
        Formula("deviation-by-formula", "fit", limits.deviation_by_formula),
        Formula("inch-range", "fit", inch_fits.inch_range),
        Formula("closest-running", "fit", inch_fits.closest_running),
        Formula("v-block", "form", lobes.v_block_factor),
        Formula("v-block-angle", "form", lobes.matched_angle),
        Formula("contacts", "form", contacts.factor_size),
        Formula("lobes-unseen", "form", lobes.blind_to),
        Formula("out-of-round", "form", lobes.out_of_round),
        Formula("lobed-diameter", "form", lobes.lobed_diameter),
        Formula("roundness", "form", roundness.roundness),
        Formula("harmonics", "form", roundness.harmonics),
        Formula("circle", "form", roundness.exact_circle),
        Formula("taper-resolution", "form", taper.resolution_needed),
        Formula("diameters-after-turning", "form", taper.after_turning),
        Formula("contact-error", "gauges", contact.comparison_error),
        Formula("master-tolerance", "gauges", permissible_errors.gagemaker_tolerance),
        Formula("gauge-block", "gauges", permissible_errors.gauge_block_limit),
        Formula("micrometer", "gauges", permissible_errors.micrometer_limit),
        Formula("micrometer-bending", "gauges", permissible_errors.micrometer_deflection),
        Formula("gauge-wanted", "gauges", permissible_errors.error_wanted),
        Formula("places-differ", "gauges", repeatability.one_way_of_summaries),
        Formula("settling", "grinding", decay.fit_decay),
        Formula("settling-by-three", "grinding", decay.three_readings),
        Formula("left-after", "grinding", decay.left_after),
        Formula("time-to", "grinding", decay.time_to),
        Formula("left-after-passes", "grinding", decay.left_after_passes),
        Formula("passes-to", "grinding", decay.passes_to),
        Formula("passes-constant", "grinding", decay.passes_constant),
        Formula("traverse", "grinding", grinding_data.traverse),
        Formula("plunge", "grinding", grinding_data.plunge),
        Formula("surface-speed", "grinding", grinding_data.surface_speed),
        Formula("rpm", "grinding", grinding_data.rpm),
        Formula("feet-per-minute", "grinding", grinding_data.sfpm),
        Formula("from-feet-per-minute", "grinding", grinding_data.from_sfpm),
        Formula("table-speed", "grinding", grinding_data.table_speed),
        Formula("cooled", "heat", cooling.difference_after),
        Formula("cooling-time", "heat", cooling.time_until),
        Formula("core-temperature", "heat", cooling.cylinder_centre),
        Formula("pass-heat", "heat", cooling.pass_heat),
        Formula("chrome-and-heat", "heat", temperature.layer_error),
        Formula("chrome-from-sizes", "plating", deposit.thickness_from),
        Formula("deposition-rate", "plating", deposit.deposition_rate),
    )
}
"""The formulas by name."""


def answer(formula: Formula, given: Mapping[str, str]) -> Any:
    """What *formula* gives for values as a person writes them.

    Raises:
        BadValue: A value is missing, unknown, or cannot be read; or the formula refuses it.
    """
    known = formula.parameters
    unknown = [name for name in given if name not in known]
    if unknown:
        raise BadValue(f"{formula.name} knows no {', '.join(unknown)}; it takes {', '.join(known)}")
    missing = [
        name for name, one in known.items() if one.default is inspect.Parameter.empty and name not in given
    ]
    if missing:
        raise BadValue(f"{formula.name} needs {', '.join(missing)} as well")
    hints = get_type_hints(formula.function)
    values = {name: _read(name, hints[name], text) for name, text in given.items()}
    try:
        return formula.function(**values)
    except (ValueError, KeyError, ArithmeticError) as error:
        why = error.args[0] if error.args else error
        raise BadValue(f"{formula.name} cannot take that: {why}") from None


def _read(name: str, hint: Any, text: str) -> Any:
    origin, kinds = get_origin(hint), get_args(hint)
    if origin is Literal:
        if text not in kinds:
            raise BadValue(f"{name} is one of {', '.join(kinds)}, and not {text!r}")
        return text
    if isinstance(origin, type) and issubclass(origin, Sequence):
        return tuple(_read(name, kinds[0], piece) for piece in text.split(","))
    among = kinds or (hint,)
    try:
        if materials.Expansion in among:
            return materials.expansion(text)
        if contact.Elastic in among:
            return contact.Elastic(*(_number(piece) for piece in text.split(":", 1)))
        if int in among and text.lstrip("+-").isdigit():
            return int(text)
        if float in among:
            return _number(text)
    except ValueError as error:
        raise BadValue(f"{name} cannot be {text!r}: {error}") from None
    if str in among:
        return text
    raise BadValue(f"{name} cannot be {text!r}: a whole number was due")


def _number(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        raise ValueError("a number was due") from None
    if not isfinite(number):
        raise ValueError("a finite number was due")
    return number
