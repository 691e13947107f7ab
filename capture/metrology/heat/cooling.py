"""How a part cools: its time constant in air, oil or coolant, and what a grinding pass puts into it.

A part that conducts much better than its surface gives heat away has one temperature all
through (lumped, Biot number under 0.1); its difference to the surroundings then falls as
``exp(-t / tau)`` with ``tau = rho c V / (h A)``. Still air takes hours: there is no rule
of thumb here, only the physics and the thermometer.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, isfinite, log, pi
from typing import Literal, TypeAlias

from msgspec import Struct

from capture.metrology.units import kelvin

Shape: TypeAlias = Literal["cylinder", "sphere", "plate"]
STEFAN_BOLTZMANN = 5.670374419e-8
GRAVITY = 9.80665
LUMPED_BIOT = 0.1
"""Biot number up to which one temperature all through is a fair description (textbook rule)."""

_VOLUME_PER_AREA: dict[str, float] = {"cylinder": 4.0, "sphere": 6.0, "plate": 2.0}


class Solid(Struct, frozen=True):
    """What heat does in a material; SI units."""

    density: float
    """kg/m3."""
    heat: float
    """Specific heat, J/(kg K)."""
    conductivity: float
    """W/(m K)."""


STEEL = Solid(density=7850.0, heat=475.0, conductivity=45.0)
"""A low-alloy steel near 20 °C (common handbook values)."""


class Air(Struct, frozen=True):
    """Air near 300 K; SI units (common textbook table values)."""

    viscosity: float = 1.589e-5
    """Kinematic, m2/s."""
    diffusivity: float = 2.25e-5
    """Thermal, m2/s."""
    conductivity: float = 0.0263
    """W/(m K)."""
    prandtl: float = 0.707


class StillAir(Struct, frozen=True):
    """Heat given to still air by a horizontal round bar."""

    convection: float
    """Film coefficient of free convection, W/(m2 K)."""
    radiation: float
    """Film coefficient of radiation, W/(m2 K)."""
    tau: float
    """Time constant, s."""
    biot: float


def length_of_shape(diameter: float, shape: Shape = "cylinder") -> float:
    """Volume over surface, same unit as *diameter*: D/4 long cylinder, D/6 sphere, D/2 plate."""
    return diameter / _VOLUME_PER_AREA[shape]


def biot(film: float, length: float, conductivity: float) -> float:
    """Biot number ``h L / k``; for the lumped test L is volume over surface, m."""
    return film * length / conductivity


def time_constant(solid: Solid, film: float, diameter: float, shape: Shape = "cylinder") -> float:
    """Time constant ``rho c V / (h A)``, s; for a long shaft ``rho c D / (4 h)``.

    Args:
        solid: The material.
        film: Heat transfer coefficient h, W/(m2 K): still air about 5, coolant 500 to 1000
            (engineering estimates).
        diameter: In metres.
        shape: What the diameter is of.
    """
    return solid.density * solid.heat * length_of_shape(diameter, shape) / film


def difference_after(difference: float, t: float, tau: float) -> float:
    """Temperature difference to the surroundings after *t* seconds, K."""
    return difference * exp(-t / tau)


def time_until(difference: float, limit: float, tau: float) -> float:
    """Seconds until a difference has fallen to *limit*, both K; 0 when it is there already.

    Raises:
        ValueError: the limit is not positive: an exponential never gets to zero.
    """
    if not limit > 0.0:
        raise ValueError(f"limit is {limit:g} K; a difference never falls to nothing, so it must be over 0")
    return max(0.0, tau * log(abs(difference) / limit)) if difference else 0.0


def still_air(
    diameter: float,
    *,
    difference: float,
    room: float = 20.0,
    emissivity: float = 0.2,
    solid: Solid = STEEL,
    air: Air = Air(),  # noqa: B008 - a frozen value
) -> StillAir:
    """Cooling of a horizontal shaft in still air.

    Free convection by Churchill and Chu for a horizontal cylinder (Int. J. Heat Mass
    Transfer 18 (1975) 1049), with the film at the mean temperature:
    ``Nu = (0.60 + 0.387 Ra^(1/6) / (1 + (0.559/Pr)^(9/16))^(8/27))^2``, to which
    radiation ``e s (Ts + Ta)(Ts^2 + Ta^2)`` is added.

    Args:
        diameter: Metres.
        difference: Shaft minus room, K; its size matters, not its sign.
        room: °C.
        emissivity: Of the surface; 0.2 is a ground steel (estimate).
        solid: The shaft's material.
        air: The air's properties.

    Raises:
        ValueError: diameter or difference is zero or less than zero where it may not be.
    """
    if not (isfinite(diameter) and diameter > 0.0 and difference):
        raise ValueError(
            f"diameter {diameter:g} m and difference {difference:g} K: both must be there to cool"
        )
    warm, cold = kelvin(room + difference), kelvin(room)
    rayleigh = (
        GRAVITY * (2.0 / (warm + cold)) * abs(difference) * diameter**3 / (air.viscosity * air.diffusivity)
    )
    shape = (1.0 + (0.559 / air.prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    nusselt = (0.60 + 0.387 * rayleigh ** (1.0 / 6.0) / shape) ** 2
    convection = nusselt * air.conductivity / diameter
    radiation = emissivity * STEFAN_BOLTZMANN * (warm + cold) * (warm**2 + cold**2)
    film = convection + radiation
    return StillAir(
        convection=convection,
        radiation=radiation,
        tau=time_constant(solid, film, diameter),
        biot=biot(film, length_of_shape(diameter), solid.conductivity),
    )


def cylinder_roots(biot_radius: float, terms: int) -> list[float]:
    """First roots of ``x J1(x) = Bi J0(x)``, with Bi on the radius (Cengel, transient conduction)."""
    from scipy.special import j0, j1, jn_zeros  # noqa: PLC0415 - slow to import

    def unbalance(x: float) -> float:
        return float(x * j1(x) - biot_radius * j0(x))

    lows = [0.0, *(float(zero) for zero in jn_zeros(1, terms))]
    highs = [float(zero) for zero in jn_zeros(0, terms)]
    return [_root(unbalance, low, high) for low, high in zip(lows, highs, strict=False)]


def cylinder_centre(biot_radius: float, fourier: float, *, terms: int = 40) -> float:
    """What is left of the difference on the axis of a long cylinder, as a fraction of the first.

    Exact series ``sum A_n exp(-x_n^2 Fo)``, ``A_n = 2 J1 / (x_n (J0^2 + J1^2))``
    (Cengel; Incropera and DeWitt); *terms* = 1 is the textbook approximation, good for
    a Fourier number over 0.2.

    Args:
        biot_radius: ``h r / k`` on the radius.
        fourier: ``a t / r^2``.
        terms: Terms of the series.
    """
    roots = cylinder_roots(biot_radius, terms)
    return sum(cylinder_amplitude(root) * exp(-(root**2) * fourier) for root in roots)


def cylinder_amplitude(root: float) -> float:
    """Amplitude A of one term of :func:`cylinder_centre`."""
    from scipy.special import j0, j1  # noqa: PLC0415 - slow to import

    first, zeroth = float(j1(root)), float(j0(root))
    return 2.0 * first / (root * (zeroth**2 + first**2))


class PassHeat(Struct, frozen=True):
    """What one pass leaves in the part."""

    energy: float
    """Joules that the pass took altogether."""
    rise: float
    """Temperature rise of the part, K, once it has evened out."""
    growth: float
    """Growth on diameter, mm."""


def pass_heat(
    *,
    diameter: float,
    length: float,
    removed: float,
    specific_energy: float,
    fraction: float,
    alpha: float,
    solid: Solid = STEEL,
) -> PassHeat:
    """Heat and growth of a shaft from one grinding pass.

    Args:
        diameter: mm.
        length: Ground length, mm.
        removed: On diameter, mm.
        specific_energy: J/mm3; about 50 in finish grinding (a lecture's figure).
        fraction: Share that stays in the part: 0.1 with good coolant, 0.6 dry (estimates).
        alpha: Expansion, per kelvin.
        solid: The part's material.
    """
    energy = specific_energy * pi * diameter * length * removed / 2.0
    mass = solid.density * pi / 4.0 * diameter**2 * length * 1e-9
    rise = fraction * energy / (mass * solid.heat)
    return PassHeat(energy=energy, rise=rise, growth=diameter * alpha * rise)


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Bisection to the last bit between two places where the function has opposite signs."""
    rising = function(high) > 0.0
    for _ in range(200):
        middle = (low + high) / 2.0
        if middle in {low, high}:
            break
        low, high = (middle, high) if (function(middle) < 0.0) == rising else (low, middle)
    return high
