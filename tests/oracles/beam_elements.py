"""Hermite beam elements with tension: the independent solver behind the formulas.

A rope is a chain of elements with two unknowns per node, displacement and slope.
Tension may change along it, masses and springs may sit on nodes, ends may be clamped,
pinned or free. Nothing is imported from the program under test.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import sparse
from scipy.sparse import csc_array
from scipy.sparse.linalg import eigsh, spsolve

Floats = NDArray[np.float64]

CLAMPED = "clamped"
PINNED = "pinned"
GUIDED = "guided"
FREE = "free"


def _shapes(position: Floats, lengths: Floats) -> tuple[Floats, Floats, Floats]:
    """Hermite shape functions (n_elements, n_points, 4), two derivatives."""
    s = position[None, :]
    h = lengths[:, None]
    one = np.ones_like(h * s)
    value = np.stack(
        [
            one * (1 - 3 * s**2 + 2 * s**3),
            h * (s - 2 * s**2 + s**3),
            one * (3 * s**2 - 2 * s**3),
            h * (s**3 - s**2),
        ],
        axis=-1,
    )
    first = np.stack(
        [
            (6 * s**2 - 6 * s) / h,
            one * (1 - 4 * s + 3 * s**2),
            (6 * s - 6 * s**2) / h,
            one * (3 * s**2 - 2 * s),
        ],
        axis=-1,
    )
    second = np.stack(
        [
            (12 * s - 6) / h**2,
            (6 * s - 4) / h,
            (6 - 12 * s) / h**2,
            (6 * s - 2) / h,
        ],
        axis=-1,
    )
    return value, first, second


@dataclass(frozen=True, kw_only=True)
class Modes:
    """Frequencies [Hz], shapes (n_nodes, n_modes) and places of the nodes [m].

    Shapes are displacements, normalised to a modal mass of 1 kg: the response of node p
    to a release at node q is the sum over modes of shape[p] shape[q] ... as usual.
    """

    frequencies: Floats
    shapes: Floats
    slopes: Floats
    places: Floats


@dataclass(frozen=True, kw_only=True)
class Chain:
    """A rope cut into elements.

    Attributes
    ----------
    lengths : ndarray, shape (n_elements,)
        Element lengths. [m]
    tension : array_like, scalar, (n_elements,) or (n_elements, 2)
        Constant per element, or at both ends of each, linear between. [N]
    linear_density, flexural_rigidity : array_like, scalar or (n_elements,)
        [kg/m], [N m2]
    ends : pair of str
        "clamped", "pinned", "guided" (slope held) or "free" at the first and last node.
    masses, springs : tuples of (node, kg) and (node, N/m)
        Point masses and lateral springs to ground.
    rotational_springs, rotational_masses : tuples of (node, N m/rad), (node, kg m2)
        Likewise for the slope.
    """

    lengths: Floats
    tension: ArrayLike
    linear_density: ArrayLike
    flexural_rigidity: ArrayLike
    ends: tuple[str, str] = (CLAMPED, PINNED)
    masses: tuple[tuple[int, float], ...] = ()
    springs: tuple[tuple[int, float], ...] = ()
    rotational_springs: tuple[tuple[int, float], ...] = ()
    rotational_masses: tuple[tuple[int, float], ...] = ()
    n_points: int = field(default=5, repr=False)

    @property
    def n_nodes(self) -> int:
        """Number of nodes."""
        return len(self.lengths) + 1

    @property
    def places(self) -> Floats:
        """Distance of every node from the first. [m]"""
        return np.concatenate([[0.0], np.cumsum(self.lengths)])

    @property
    def held(self) -> list[int]:
        """Unknowns that the ends hold at zero."""
        last = 2 * (self.n_nodes - 1)
        held: list[int] = []
        for first, end in ((0, self.ends[0]), (last, self.ends[1])):
            held += {
                CLAMPED: [first, first + 1],
                PINNED: [first],
                GUIDED: [first + 1],
                FREE: [],
            }[end]
        return held


def matrices(chain: Chain) -> tuple[csc_array, csc_array]:
    """Stiffness and mass, sparse (2 n_nodes, 2 n_nodes), unknowns y0, y0', y1 ..."""
    lengths = np.asarray(chain.lengths, dtype=np.float64)
    n = len(lengths)
    points, weights = np.polynomial.legendre.leggauss(chain.n_points)
    position, weights = 0.5 * (points + 1), 0.5 * weights
    value, first, second = _shapes(position, lengths)
    tension = np.asarray(chain.tension, dtype=np.float64)
    if tension.ndim == 2:
        along = tension[:, :1] * (1 - position) + tension[:, 1:] * position
    else:
        along = np.broadcast_to(tension, (n,))[:, None] * np.ones_like(position)
    density = np.broadcast_to(np.asarray(chain.linear_density, dtype=float), (n,))
    rigidity = np.broadcast_to(np.asarray(chain.flexural_rigidity, dtype=float), (n,))
    weight = lengths[:, None] * weights
    stiffness = np.einsum("eq,eqi,eqj->eij", weight * along, first, first)
    stiffness += np.einsum(
        "eq,eqi,eqj->eij", weight * rigidity[:, None], second, second
    )
    mass = np.einsum("eq,eqi,eqj->eij", weight * density[:, None], value, value)
    unknowns = 2 * np.arange(n)[:, None] + np.arange(4)
    rows = np.repeat(unknowns, 4, axis=1).ravel()
    columns = np.tile(unknowns, (1, 4)).ravel()
    shape = (2 * n + 2, 2 * n + 2)
    whole_stiffness = sparse.coo_array((stiffness.ravel(), (rows, columns)), shape)
    whole_mass = sparse.coo_array((mass.ravel(), (rows, columns)), shape)
    k = whole_stiffness.tocsc() + _on_nodes(chain.springs, 0, shape)
    k = k + _on_nodes(chain.rotational_springs, 1, shape)
    m = whole_mass.tocsc() + _on_nodes(chain.masses, 0, shape)
    m = m + _on_nodes(chain.rotational_masses, 1, shape)
    return k, m


def _on_nodes(
    items: Iterable[tuple[int, float]], which: int, shape: tuple[int, int]
) -> csc_array:
    """Diagonal matrix of point values on displacements (0) or slopes (1)."""
    diagonal = np.zeros(shape[0])
    for node, value in items:
        diagonal[2 * (node % (shape[0] // 2)) + which] += value
    return sparse.diags_array(diagonal).tocsc()


def free_unknowns(chain: Chain) -> NDArray[np.intp]:
    """Numbers of the unknowns that the ends leave free."""
    keep = np.ones(2 * chain.n_nodes, dtype=bool)
    keep[chain.held] = False
    return np.flatnonzero(keep)


def lowest_modes(
    stiffness: csc_array, mass: csc_array, n_modes: int
) -> tuple[Floats, Floats]:
    """Frequencies [Hz] and vectors, normalised to unit modal mass, of any K and M."""
    start = np.cos(np.arange(stiffness.shape[0], dtype=float) ** 2)
    squared, vectors = eigsh(
        stiffness, k=n_modes, M=mass, sigma=0.0, which="LM", v0=start
    )
    order = np.argsort(squared)
    frequencies = np.sqrt(squared[order]) / (2 * np.pi)
    return frequencies, vectors[:, order]


def find_modes(chain: Chain, n_modes: int) -> Modes:
    """Lowest modes of one chain."""
    stiffness, mass = matrices(chain)
    keep = free_unknowns(chain)
    frequencies, vectors = lowest_modes(
        stiffness[keep][:, keep], mass[keep][:, keep], n_modes
    )
    whole = np.zeros((2 * chain.n_nodes, n_modes))
    whole[keep] = vectors
    return Modes(
        frequencies=frequencies,
        shapes=whole[0::2],
        slopes=whole[1::2],
        places=chain.places,
    )


def deflect(chain: Chain, forces: Sequence[tuple[int, float]]) -> tuple[Floats, Floats]:
    """Displacement [m] and slope of every node under lateral forces [N] on nodes."""
    stiffness, _ = matrices(chain)
    keep = free_unknowns(chain)
    load = np.zeros(2 * chain.n_nodes)
    for node, force in forces:
        load[2 * (node % chain.n_nodes)] += force
    whole = np.zeros(2 * chain.n_nodes)
    whole[keep] = spsolve(stiffness[keep][:, keep], load[keep])
    return whole[0::2], whole[1::2]


def shortening(chain: Chain, places_and_slopes: tuple[Floats, Floats]) -> float:
    """Arc less chord of a deflected chain, half the integral of y'^2."""
    displacement, slope = places_and_slopes
    points, weights = np.polynomial.legendre.leggauss(5)
    lengths = np.asarray(chain.lengths)
    _, first, _ = _shapes(0.5 * (points + 1), lengths)
    unknowns = np.stack(
        [displacement[:-1], slope[:-1], displacement[1:], slope[1:]], axis=-1
    )
    along = np.einsum("eqi,ei->eq", first, unknowns)
    return float(0.25 * np.sum(lengths[:, None] * weights * along**2))


def join(chains: Sequence[Chain], joined: Sequence[int]) -> tuple[csc_array, csc_array]:
    """K and M of several chains whose given nodes (one each) share a displacement.

    Held unknowns are gone; the shared displacement is the last unknown, so that a mass
    or a spring of the common point is added to the last diagonal entry.
    """
    pairs = [matrices(chain) for chain in chains]
    stiffness = sparse.block_diag([k for k, _ in pairs], format="csc")
    mass = sparse.block_diag([m for _, m in pairs], format="csc")
    offsets = np.concatenate([[0], np.cumsum([2 * c.n_nodes for c in chains])])
    shared = [
        int(offset) + 2 * (node % chain.n_nodes)
        for offset, node, chain in zip(offsets, joined, chains, strict=False)
    ]
    keep = np.concatenate(
        [offset + free_unknowns(c) for offset, c in zip(offsets, chains, strict=False)]
    )
    own = np.setdiff1d(keep, shared)
    rows = np.concatenate([own, shared])
    columns = np.concatenate([np.arange(len(own)), np.full(len(shared), len(own))])
    collect = sparse.coo_array(
        (np.ones(len(rows)), (rows, columns)), (stiffness.shape[0], len(own) + 1)
    ).tocsc()
    return collect.T @ stiffness @ collect, collect.T @ mass @ collect


def even_lengths(free_length: float, n_elements: int) -> Floats:
    """Elements of one length."""
    return np.full(n_elements, free_length / n_elements)


def graded_lengths(free_length: float, n_elements: int, finest: float) -> Floats:
    """Elements that grow geometrically from both ends, the end ones `finest` long."""
    half = n_elements // 2
    if finest * half >= free_length / 2:
        return even_lengths(free_length, 2 * half)
    low, high = 1.0 + 1e-9, 10.0
    for _ in range(200):
        growth = 0.5 * (low + high)
        total = finest * (growth**half - 1) / (growth - 1)
        low, high = (growth, high) if total < free_length / 2 else (low, growth)
    side = low ** np.arange(half)
    side *= 0.5 * free_length / side.sum()
    return np.concatenate([side, side[::-1]])


def weighted_tension(
    lengths: Floats, lower_tension: float, linear_density: float, gravity: float
) -> Floats:
    """Tension at both ends of every element of a vertical rope, lowest first."""
    places = np.concatenate([[0.0], np.cumsum(lengths)])
    tension = lower_tension + linear_density * gravity * places
    return np.stack([tension[:-1], tension[1:]], axis=-1)
