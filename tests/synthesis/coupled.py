"""Ropes that hang on one hitch plate which gives way: modes of the whole set.

Each rope is finite elements clamped in its socket; the sockets move sideways with the
plate, which is a mass on a spring. The set is put together from the modes of the
clamped ropes and one static shape per rope, as substructures are (Craig and Bampton).
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.sparse import csc_array
from scipy.sparse.linalg import spsolve

from tests.synthesis.plucking import solve
from tests.synthesis.ropes import RopeModes, RopeSpec, element_entries

Array = NDArray[np.float64]


def _static_shape(modes: RopeModes) -> tuple[Array, float, float, Array]:
    """Shape for a unit move of the socket, its stiffness, mass and hold on the modes.

    Returns the nodal shape, its stiffness [N/m], its mass [kg] and its mass product
    with each clamped mode [kg^1/2].
    """
    n = 2 * len(modes.nodes)
    rows, columns, stiffness, mass = element_entries(modes.spec, modes.nodes)
    K = csc_array((stiffness, (rows, columns)), shape=(n, n))
    M = csc_array((mass, (rows, columns)), shape=(n, n))
    free = np.setdiff1d(np.arange(n), [0, 1, n - 2])
    shape = np.zeros(n)
    shape[0] = 1.0
    pull = K[free][:, [0]].toarray().ravel()
    shape[free] = spsolve(K[free][:, free], -pull)
    with_mass = M @ shape
    return (
        shape,
        float(shape @ (K @ shape)),
        float(shape @ with_mass),
        modes.shapes.T @ with_mass,
    )


def couple(
    clamped: tuple[RopeModes, ...], plate_stiffness: float, plate_mass: float
) -> tuple[RopeModes, ...]:
    """Modes of the set, as each rope moves in them.

    All the RopeModes returned share the frequencies of the set; the shapes are those
    of one rope. Only modes below the lowest of the ropes' highest are kept.
    """
    statics = [_static_shape(modes) for modes in clamped]
    sizes = [len(modes.frequencies) for modes in clamped]
    first = np.concatenate([[1], 1 + np.cumsum(sizes)])
    n = int(first[-1])
    K, M = np.zeros((n, n)), np.eye(n)
    K[0, 0] = plate_stiffness + sum(stiffness for _, stiffness, _, _ in statics)
    M[0, 0] = plate_mass + sum(mass for _, _, mass, _ in statics)
    for i, modes in enumerate(clamped):
        place = np.arange(first[i], first[i + 1])
        K[place, place] = (2.0 * np.pi * modes.frequencies) ** 2
        M[0, place] = M[place, 0] = statics[i][3]
    squares, vectors = eigh(K, M)
    frequencies = np.sqrt(squares) / (2.0 * np.pi)
    kept = frequencies < min(float(modes.frequencies[-1]) for modes in clamped)
    vectors = vectors[:, kept]
    coupled = []
    for i, modes in enumerate(clamped):
        own = modes.shapes @ vectors[first[i] : first[i + 1]]
        coupled.append(
            replace(
                modes,
                frequencies=frequencies[kept],
                shapes=own + np.outer(statics[i][0], vectors[0]),
                socket_signal=plate_stiffness * vectors[0],
            )
        )
    return tuple(coupled)


def solve_coupled(
    specs: tuple[RopeSpec, ...], plate_stiffness: float, plate_mass: float
) -> tuple[RopeModes, ...]:
    """Solve ropes one by one, then hang them on one plate."""
    return couple(tuple(solve(spec) for spec in specs), plate_stiffness, plate_mass)
