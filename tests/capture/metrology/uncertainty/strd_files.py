"""NIST's Statistical Reference Datasets for nonlinear regression, read from their own files in `strd`.

Source: NIST StRD, Nonlinear Regression, all 27 files, as the source distribution of lmfit 1.3.4 carries them;
a header gives starts and certified values, and the lines on which they and the data stand.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import numpy as np

from capture.metrology.uncertainty.least_squares import Curve

FOLDER = Path(__file__).parent / "strd"


class Certified(NamedTuple):
    curve: Curve
    x: list
    """One number a reading; two of `Nelson`."""
    y: list[float]
    start1: list[float]
    start2: list[float]
    parameters: list[float]
    sd: list[float]
    rss: float
    s: float


def _lanczos(x, p):
    return p[0] * np.exp(-p[1] * x) + p[2] * np.exp(-p[3] * x) + p[4] * np.exp(-p[5] * x)


def _gauss(x, p):
    first, second = np.exp(-(((x - p[3]) / p[4]) ** 2)), np.exp(-(((x - p[6]) / p[7]) ** 2))
    return p[0] * np.exp(-p[1] * x) + p[2] * first + p[5] * second


def _cubics(x, p):
    above = p[0] + p[1] * x + p[2] * x**2 + p[3] * x**3
    return above / (1 + p[4] * x + p[5] * x**2 + p[6] * x**3)


def _enso(x, p):
    found = p[0]
    for a, b, period in ((p[1], p[2], 12.0), (p[4], p[5], p[3]), (p[7], p[8], p[6])):
        found = found + a * np.cos(2 * np.pi * x / period) + b * np.sin(2 * np.pi * x / period)
    return found


MODELS: dict[str, Curve] = {
    "Bennett5": lambda x, p: p[0] * (p[1] + x) ** (-1 / p[2]),
    "BoxBOD": lambda x, p: p[0] * (1 - np.exp(-p[1] * x)),
    "Chwirut1": lambda x, p: np.exp(-p[0] * x) / (p[1] + p[2] * x),
    "Chwirut2": lambda x, p: np.exp(-p[0] * x) / (p[1] + p[2] * x),
    "DanWood": lambda x, p: p[0] * x ** p[1],
    "ENSO": _enso,
    "Eckerle4": lambda x, p: p[0] / p[1] * np.exp(-0.5 * ((x - p[2]) / p[1]) ** 2),
    "Gauss1": _gauss,
    "Gauss2": _gauss,
    "Gauss3": _gauss,
    "Hahn1": _cubics,
    "Kirby2": lambda x, p: (p[0] + p[1] * x + p[2] * x**2) / (1 + p[3] * x + p[4] * x**2),
    "Lanczos1": _lanczos,
    "Lanczos2": _lanczos,
    "Lanczos3": _lanczos,
    "MGH09": lambda x, p: p[0] * (x**2 + x * p[1]) / (x**2 + x * p[2] + p[3]),
    "MGH10": lambda x, p: p[0] * np.exp(p[1] / (x + p[2])),
    "MGH17": lambda x, p: p[0] + p[1] * np.exp(-x * p[3]) + p[2] * np.exp(-x * p[4]),
    "Misra1a": lambda x, p: p[0] * (1 - np.exp(-p[1] * x)),
    "Misra1b": lambda x, p: p[0] * (1 - (1 + p[1] * x / 2) ** -2.0),
    "Misra1c": lambda x, p: p[0] * (1 - (1 + 2 * p[1] * x) ** -0.5),
    "Misra1d": lambda x, p: p[0] * p[1] * x / (1 + p[1] * x),
    "Nelson": lambda x, p: p[0] - p[1] * x[:, 0] * np.exp(-p[2] * x[:, 1]),
    "Rat42": lambda x, p: p[0] / (1 + np.exp(p[1] - p[2] * x)),
    "Rat43": lambda x, p: p[0] / (1 + np.exp(p[1] - p[2] * x)) ** (1 / p[3]),
    "Roszman1": lambda x, p: p[0] - p[1] * x - np.arctan(p[2] / (x - p[3])) / np.pi,
    "Thurber": _cubics,
}


def certified(name: str) -> Certified:
    """The data set of that name."""
    lines = (FOLDER / f"{name}.dat").read_text().splitlines()
    rows = [_numbers(line.split("=")[1]) for line in lines if re.match(r"\s*b\d+ =", line)]
    first, last = map(int, re.findall(r"Data\s+\(lines (\d+) to (\d+)\)", "\n".join(lines))[0])
    data = np.array([_numbers(line) for line in lines[first - 1 : last]])
    y, x = data[:, 0], data[:, 1:]
    if name == "Nelson":  # its model is of the logarithm
        y = np.log(y)
    return Certified(
        MODELS[name],
        x.tolist() if x.shape[1] > 1 else x[:, 0].tolist(),
        y.tolist(),
        *([row[column] for row in rows] for column in range(4)),
        rss=_told(lines, "Residual Sum of Squares"),
        s=_told(lines, "Residual Standard Deviation"),
    )


def _numbers(text: str) -> list[float]:
    return [float(word) for word in text.split()]


def _told(lines: list[str], what: str) -> float:
    return float(next(line for line in lines if line.startswith(what)).split(":")[1])


STRD = {name: certified(name) for name in MODELS}
