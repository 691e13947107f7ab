"""Size at 20 °C, growth, and the clearance that is left at any temperatures.

The reference temperature of lengths is 20 °C (ISO 1:2022; unchanged since 1931, see
Phillips and others, J. Res. NIST 121 (2016), doi 10.6028/jres.121.026). A part of
expansion ``a`` has at temperature ``T`` the size ``D20 (1 + a (T - 20))``.
"""

from __future__ import annotations

from math import hypot, isfinite

from msgspec import Struct

from capture.metrology.heat.materials import Expansion

REFERENCE = 20.0
"""Reference temperature, °C."""


class Temperature(Struct, frozen=True):
    """A temperature and how well it is known, °C.

    Raises:
        ValueError: a number is not finite, or the uncertainty is negative.
    """

    t: float
    u: float
    """Standard uncertainty, of the thermometer and of where it touches, together."""

    def __post_init__(self) -> None:
        """A thermometer's missing value must not turn into a size."""
        if not (isfinite(self.t) and isfinite(self.u) and self.u >= 0.0):
            raise ValueError(f"temperature {self.t} °C with uncertainty {self.u} °C is not one")

    @property
    def above(self) -> float:
        """Kelvins above 20 °C; below it, negative."""
        return self.t - REFERENCE


class Corrected(Struct, frozen=True):
    """A length brought to 20 °C, in millimetres."""

    size: float
    u: float
    """Standard uncertainty: the reading's own and the temperature's together."""
    correction: float
    """What was added to the reading."""
    parts: dict[str, float]
    """Standard uncertainty that each cause contributes."""


def size_at_20(
    reading: float,
    *,
    part: Expansion,
    t_part: Temperature,
    gauge: Expansion | None = None,
    t_gauge: Temperature | None = None,
    u_reading: float = 0.0,
    u_common: float = 0.0,
) -> Corrected:
    """The size at 20 °C of a part that was read warm.

    ``D20 = R (1 + a_g (T_g - 20)) / (1 + a_p (T_p - 20))``, exact, where R is the
    indication of a gauge that is right at 20 °C. Where the gauge was just zeroed on a
    master, give the master's expansion and temperature as *gauge* and *t_gauge*: the
    comparison cancels the gauge's own. Without either, the reading is taken as the
    length itself.

    The uncertainty is first order in every input, with the second-order terms
    ``D u(a) u(T)`` of GUM (JCGM 100:2008) H.1.7 and 5.1.2 note, which are all that is
    left where an expansion difference or ``T - 20`` is estimated as zero.

    Args:
        reading: What the gauge said, mm.
        part: Expansion of the part.
        t_part: Temperature of the part.
        gauge: Expansion of the gauge, or of the master that it was just zeroed on.
        t_gauge: Its temperature.
        u_reading: Standard uncertainty of the reading, mm.
        u_common: Standard uncertainty, K, of an error that both temperatures share
            because one thermometer took them; it nearly cancels between like materials.

    Raises:
        ValueError: the gauge's expansion came without its temperature, or the other way.
    """
    if (gauge is None) != (t_gauge is None):
        raise ValueError("the gauge's expansion and its temperature go together: one of them is missing")
    a_p, d_p = part.alpha, t_part.above
    a_g, u_ag = (gauge.alpha, gauge.u) if gauge else (0.0, 0.0)
    d_g, u_tg = (t_gauge.above, t_gauge.u) if t_gauge else (0.0, 0.0)
    warm_part, warm_gauge = 1.0 + a_p * d_p, 1.0 + a_g * d_g
    size = reading * warm_gauge / warm_part
    parts = {
        "reading": u_reading * warm_gauge / warm_part,
        "part expansion": abs(size * d_p / warm_part) * part.u,
        "part temperature": abs(size * a_p / warm_part) * t_part.u,
        "gauge expansion": abs(size * d_g / warm_gauge) * u_ag,
        "gauge temperature": abs(size * a_g / warm_gauge) * u_tg,
        "common temperature": abs(size * (a_g / warm_gauge - a_p / warm_part)) * u_common,
        "second order": abs(size) * hypot(part.u * hypot(t_part.u, u_common), u_ag * hypot(u_tg, u_common)),
    }
    return Corrected(size=size, u=hypot(*parts.values()), correction=size - reading, parts=parts)


def growth(size_20: float, expansion: Expansion, t: float) -> float:
    """How much larger than at 20 °C a part is at *t* °C: ``D a (t - 20)``, mm."""
    return size_20 * expansion.alpha * (t - REFERENCE)


def size_at(size_20: float, expansion: Expansion, t: float) -> float:
    """Size at *t* °C of a part that has *size_20* at 20 °C, mm."""
    return size_20 + growth(size_20, expansion, t)


def clearance_at(
    *, bore_20: float, bore: Expansion, t_bore: float, shaft_20: float, shaft: Expansion, t_shaft: float
) -> float:
    """Bore minus shaft on diameter at their temperatures, mm; negative is an interference.

    ``c = D_b (1 + a_b (T_b - 20)) - D_s (1 + a_s (T_s - 20))``, computed from the
    clearance at 20 °C so that nothing is lost to the size of the diameters.
    """
    return bore_20 - shaft_20 + growth(bore_20, bore, t_bore) - growth(shaft_20, shaft, t_shaft)


class WarmClearance(Struct, frozen=True):
    """Clearance on diameter at stated temperatures, and its standard uncertainty, mm."""

    value: float
    u: float


def clearance(
    *,
    bore_20: float,
    bore: Expansion,
    t_bore: Temperature,
    shaft_20: float,
    shaft: Expansion,
    t_shaft: Temperature,
    u_20: float,
) -> WarmClearance:
    """Clearance at the temperatures with its uncertainty.

    Args:
        bore_20: Bore at 20 °C, mm.
        bore: Expansion of the bore's material.
        t_bore: Temperature of the bore.
        shaft_20: Shaft at 20 °C, mm.
        shaft: Expansion of the shaft's material.
        t_shaft: Temperature of the shaft.
        u_20: Standard uncertainty of the clearance at 20 °C, mm.
    """
    value = clearance_at(
        bore_20=bore_20, bore=bore, t_bore=t_bore.t, shaft_20=shaft_20, shaft=shaft, t_shaft=t_shaft.t
    )
    u = hypot(u_20, growth_uncertainty(bore_20, bore, t_bore), growth_uncertainty(shaft_20, shaft, t_shaft))
    return WarmClearance(value=value, u=u)


def growth_uncertainty(size_20: float, expansion: Expansion, t: Temperature) -> float:
    """Standard uncertainty of :func:`growth`, mm: first order, and ``D u(a) u(T)``."""
    return abs(size_20) * hypot(expansion.alpha * t.u, t.above * expansion.u, expansion.u * t.u)


def temperature_that_closes(clearance_20: float, size: float, expansion: Expansion) -> float:
    """Kelvins by which the shaft alone must be warmer for the clearance to be gone."""
    return clearance_20 / (size * expansion.alpha)


def layer_error(layer: float, base: Expansion, plated: Expansion, t: float) -> float:
    """Error of growth, mm, from taking a plated part as all of its base metal.

    *layer* is the plating on diameter, mm: ``layer (a_base - a_plated) (t - 20)``. For
    0.3 mm of chromium on steel and 10 K it is 0.018 µm, which is why sizes at 20 °C here
    do not ask how thick the chromium is.
    """
    return layer * (base.alpha - plated.alpha) * (t - REFERENCE)
