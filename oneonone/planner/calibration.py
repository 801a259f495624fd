"""How much longer topics of a kind run than asked, from a line's own history, shrunk towards the server's.

Each discussed topic gives log(actual / planned) minutes. Durations of planned work are close to log-normal
(Trietsch, Mazmanyan, Gevorgyan & Baker, European Journal of Operational Research 216, 2012; shown for project
work, assumed for meetings). A line's means by kind are drawn towards a centre in the way of James & Stein
(1961), in the empirical-Bayes form for unequal variances of Efron & Morris (1975) and Morris (1983): a mean
of few observations is drawn closer than one of many.

Factors are fractions of hundredths, so that what is stored and shown is what is used.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import exp, log
from statistics import fmean

from oneonone.planner.problem import PlannerRefusal

SPREAD = 0.4
"""The standard deviation of log(actual / planned) of one topic that is assumed: a house figure."""

LINES_NEEDED = 10
"""A server's factor counts only once so many lines contribute to it."""

LOWEST, HIGHEST = Fraction(1, 2), Fraction(5, 2)
"""Factors beyond these are taken as mistakes of the clock and cut."""


@dataclass(frozen=True, slots=True)
class Factor:
    """How many times over a kind runs in this line, and the observations of the line behind it."""

    factor: Fraction
    observations: int


def log_ratio(planned: int, actual: int) -> float:
    """log(actual / planned) of one discussed topic; refuses minutes below 1 (`PlannerRefusal`)."""
    if min(planned, actual) < 1:
        raise PlannerRefusal("planned" if planned < 1 else "actual", "a whole number of minutes from 1")
    return log(actual / planned)


def shrinkage(values: Sequence[float], variance: float) -> float:
    """The part of each distance from the grand mean that remains, for equal variances (Efron & Morris)."""
    middle = fmean(values)
    squares = sum((value - middle) ** 2 for value in values)
    return max(0.0, 1 - (len(values) - 3) * variance / squares) if squares else 0.0


def factors(
    history: Mapping[str, Sequence[tuple[int, int]]],
    server: Mapping[str, Fraction] | None = None,
    server_lines: int = 0,
) -> dict[str, Factor]:
    """The factor of each kind in a line, from its (planned, actual) minutes by kind.

    `server` are the factors of the whole server by kind; they count once `server_lines` is at least
    LINES_NEEDED, else the centre is no change. A line without history has no factors. Factors are between a
    half and two and a half, in hundredths.
    """
    seen = {kind: [log_ratio(*pair) for pair in pairs] for kind, pairs in history.items() if pairs}
    trusted = server if server is not None and server_lines >= LINES_NEEDED else {}
    found = {}
    centres = {kind: log(float(trusted.get(kind, 1))) for kind in seen}
    kinds = sorted(seen)
    distances = [fmean(seen[kind]) - centres[kind] for kind in kinds]
    variances = [SPREAD**2 / len(seen[kind]) for kind in kinds]
    for kind, distance, variance in zip(kinds, distances, variances, strict=True):
        drawn = distance * _own_part(distances, variances, variance)
        found[kind] = Factor(_factor(centres[kind] + drawn), len(seen[kind]))
    return found


def server_factors(lines: Sequence[Mapping[str, Sequence[tuple[int, int]]]]) -> dict[str, Fraction]:
    """The server's factor of each kind: the mean over lines of their mean logarithms, each line once."""
    by_kind: dict[str, list[float]] = {}
    for line in lines:
        for kind, pairs in line.items():
            if pairs:
                by_kind.setdefault(kind, []).append(fmean(log_ratio(*pair) for pair in pairs))
    return {kind: _factor(fmean(means)) for kind, means in sorted(by_kind.items())}


def _factor(mean: float) -> Fraction:
    """The factor of a mean logarithm, in hundredths and within what is believed."""
    return min(HIGHEST, max(LOWEST, Fraction(round(100 * exp(mean)), 100)))


def boxed(asked: int, factor: Fraction) -> int:
    """Minutes asked times the factor, rounded half up, at least 1; refuses minutes below 1."""
    if asked < 1:
        raise PlannerRefusal("asked", "a whole number of minutes from 1")
    return max(1, int(asked * factor + Fraction(1, 2)))


PRIOR_BETWEEN = 0.2**2
"""The variance between kinds assumed while a line's own are too few to show it: a house figure."""


def _own_part(distances: Sequence[float], variances: Sequence[float], variance: float) -> float:
    """How much of a kind's distance from its centre is believed: between / (between + its variance)."""
    count = len(distances)
    between = PRIOR_BETWEEN
    if count > 2:
        weights = [1 / v for v in variances]
        excess = sum(w * (d * d - v) for w, d, v in zip(weights, distances, variances, strict=True))
        between = (count * max(0.0, excess / sum(weights)) + 2 * PRIOR_BETWEEN) / (count + 2)
    return between / (between + variance)
