"""Geometry of an ideal 8x19 Seale rope: where each wire lies, from touching circles."""

from math import cos, pi, sin, sqrt

from scipy.optimize import brentq


def strand_wires(diameter: float) -> list[tuple[int, float, float]]:
    """Layers 1+9+9 of a Seale strand: number, wire diameter, radius of its circle."""

    def layers(inner: float) -> list[tuple[int, float, float]]:
        """Wires of the middle layer touch each other; outer ones lie in its valleys."""
        circle = inner / 2 / sin(pi / 9)
        centre = 2 * circle - inner
        outer = brentq(lambda d: _gap(d, inner, circle), inner, 10 * inner)
        return [
            (1, centre, 0.0),
            (9, inner, circle),
            (9, outer, outer / 2 / sin(pi / 9)),
        ]

    def _gap(outer: float, inner: float, circle: float) -> float:
        """How far an outer wire is from touching its two inner neighbours."""
        ring = outer / 2 / sin(pi / 9)
        apart = sqrt(ring**2 + circle**2 - 2 * ring * circle * cos(pi / 9))
        return apart - (outer + inner) / 2

    unit = layers(1.0)
    whole = 2 * unit[2][2] + unit[2][1]
    return [(n, d * diameter / whole, r * diameter / whole) for n, d, r in unit]


def metal_over_rod(n_strands: int = 8) -> float:
    """Area of all wires over that of a solid rod."""
    strand = sin(pi / n_strands) / (1 + sin(pi / n_strands))
    return sum(n_strands * n * wire**2 for n, wire, _ in strand_wires(strand))


def rigidity_over_rod(n_strands: int = 8) -> tuple[float, float]:
    """Second moment of all wires over that of a solid rod: loose, and as one body."""
    strand = sin(pi / n_strands) / (1 + sin(pi / n_strands))
    circle = (1 - strand) / 2
    loose = bonded = 0.0
    for n_wires, wire, radius in strand_wires(strand):
        own = pi * wire**4 / 64
        area = pi * wire**2 / 4
        loose += n_strands * n_wires * own
        # mean square distance from an axis of circles on a circle: (R² + r²)/2
        bonded += n_strands * n_wires * (own + area * (circle**2 + radius**2) / 2)
    rod = pi / 64
    return loose / rod, bonded / rod
