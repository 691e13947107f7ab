"""Colours: Okabe and Ito, "Color Universal Design" (2008), on a paper of day and one of night.

No meaning stands on colour alone: each has its word and its shape.
"""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

Theme: TypeAlias = Literal["light", "dark"]

BLACK: Final = "#000000"
WHITE: Final = "#ffffff"
ORANGE: Final = "#e69f00"
SKY: Final = "#56b4e9"
GREEN: Final = "#009e73"
YELLOW: Final = "#f0e442"
BLUE: Final = "#0072b2"
VERMILION: Final = "#d55e00"
PURPLE: Final = "#cc79a7"

PAPER: Final[dict[Theme, dict[str, str]]] = {
    "light": {
        "paper": "#f7f5ef",
        "sheet": "#fffefb",
        "ink": "#14181c",
        "faint": "#4c535a",
        "rule": "#8a8f94",
        "size": BLUE,
        "predicted": VERMILION,
        "band": GREEN,
    },
    "dark": {
        "paper": "#101417",
        "sheet": "#191f23",
        "ink": "#f2f0ea",
        "faint": "#b4bbc1",
        "rule": "#747c83",
        "size": SKY,
        "predicted": ORANGE,
        "band": GREEN,
    },
}
"""Paper, ink and the three colours of the trend, by theme."""

VERDICT: Final[dict[str, tuple[str, str, str]]] = {
    "none": ("#d9d6cc", BLACK, "○"),
    "cutting": (SKY, BLACK, "▼"),
    "stop": (YELLOW, BLACK, "■"),
    "sparking-out": (PURPLE, BLACK, "◐"),
    "sparked-out": (GREEN, BLACK, "●"),
    "unsure": (YELLOW, BLACK, "?"),
    "at-size": (GREEN, BLACK, "✓"),
    "warm": (ORANGE, BLACK, "≋"),
    "growing": (VERMILION, BLACK, "▲"),
    "stalled": (VERMILION, BLACK, "✕"),
}
"""Ground, ink and shape of each verdict's banner."""


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours ``#rrggbb``, 1 to 21 (WCAG 2.2, relative luminance).

    >>> contrast(BLACK, WHITE)
    21.0
    """
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    red, green, blue = (_linear(int(colour[i : i + 2], 16) / 255) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else float(((channel + 0.055) / 1.055) ** 2.4)


def stylesheet() -> str:
    """The custom properties that the page's own stylesheet reads."""
    papers = [
        f':root[data-theme="{theme}"]{{color-scheme:{theme};'
        + "".join(f"--{name}:{colour};" for name, colour in paper.items())
        + "}"
        for theme, paper in PAPER.items()
    ]
    banners = [
        f'.banner[data-state="{state}"]{{--ground:{ground};--on:{ink};--shape:"{shape}"}}'
        for state, (ground, ink, shape) in VERDICT.items()
    ]
    return "\n".join([*papers, *banners])
