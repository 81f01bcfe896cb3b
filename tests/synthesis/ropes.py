"""One hoist rope as finite elements: modes of a taut, heavy, stiff rope on its hitch.

Nothing here comes from the program under test. A rope is cubic Hermite beam elements
under a tension that grows upwards by its own weight; its lower end is clamped in a
socket, or the socket is a mass at the tip of a shackle rod that bends; its upper end
is pinned, as a rope running onto a sheave behaves. Frequencies and shapes come from
the eigenproblem, pluck and sensor from the shapes.

Lengths in m, tensions in N, frequencies in Hz, x counted upwards from the socket mouth.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array
from scipy.sparse.linalg import eigsh

Array = NDArray[np.float64]

GRAVITY = 9.80665
STEEL_MODULUS = 196e9
STEEL_DENSITY = 7850.0
# Four-point Gauss rule on (0, 1): exact for the products of cubics used here.
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(4)
_POINTS, _WEIGHTS = (_POINTS + 1.0) / 2.0, _WEIGHTS / 2.0


def solid_rod_rigidity(diameter: float) -> float:
    """EI of a solid steel rod. [N m^2]"""
    return STEEL_MODULUS * np.pi * diameter**4 / 64.0


@dataclass(frozen=True, kw_only=True)
class Rod:
    """Shackle rod and socket below the rope.

    Attributes
    ----------
    free_length : float
        From the hitch plate to the socket mouth. [m]
    diameter : float
        Core of the thread. [m]
    socket_mass : float
        Socket, wedge and clips, at the socket mouth. [kg]
    plate_stiffness : float
        Lateral, of the plate under the rod. [N/m]
    plate_rotation_stiffness : float
        Rotational, of rod and nut on the plate; small for a rod that swivels. [N m/rad]
    """

    free_length: float
    diameter: float
    socket_mass: float
    plate_stiffness: float = 1e7
    plate_rotation_stiffness: float = 1e5


@dataclass(frozen=True, kw_only=True)
class RopeSpec:
    """One rope between socket mouth and sheave.

    Attributes
    ----------
    free_length : float
        Socket mouth to tangent point. [m]
    linear_density : float
        Mass per length. [kg/m]
    flexural_rigidity : float
        EI. [N m^2]
    hitch_tension : float
        At the socket, the lower end. [N]
    rod : Rod or None
        None: the socket is clamped.
    """

    free_length: float
    linear_density: float
    flexural_rigidity: float
    hitch_tension: float
    rod: Rod | None = None

    @property
    def middle_tension(self) -> float:
        """Tension at mid-length. [N]"""
        half = 0.5 * self.linear_density * GRAVITY * self.free_length
        return self.hitch_tension + half

    @property
    def bending_length(self) -> float:
        """sqrt(EI / T). [m]"""
        return float(np.sqrt(self.flexural_rigidity / self.middle_tension))


@dataclass(frozen=True, kw_only=True)
class RopeModes:
    """Natural frequencies and mass-normalised shapes.

    Attributes
    ----------
    spec : RopeSpec
        The rope.
    frequencies : ndarray, shape (n_modes,)
        Rising. [Hz]
    nodes : ndarray, shape (n_nodes,)
        x of the mesh; negative along the rod. [m]
    shapes : ndarray, shape (2 n_nodes, n_modes)
        Deflection and slope at the nodes, mass-normalised. [kg^-1/2, kg^-1/2 m^-1]
    socket_signal : ndarray, shape (n_modes,)
        What a pickup on the socket or hitch sees of each mode at unit modal
        amplitude: the transverse force on the hitch. [N kg^-1/2]
    """

    spec: RopeSpec
    frequencies: Array
    nodes: Array
    shapes: Array
    socket_signal: Array

    def deflection(self, x: float) -> Array:
        """Mode shapes at x, shape (n_modes,). [kg^-1/2]"""
        i = int(np.clip(np.searchsorted(self.nodes, x) - 1, 0, len(self.nodes) - 2))
        h = self.nodes[i + 1] - self.nodes[i]
        shape = _hermite(np.array([(x - self.nodes[i]) / h]), h)[0]
        out: Array = shape[:, 0] @ self.shapes[2 * i : 2 * i + 4]
        return out

    def averaged_deflection(self, x: float, width: float) -> Array:
        """Mode shapes under a raised-cosine window of a width around x."""
        places = x + width * (np.arange(9) - 4.0) / 9.0
        weights = 1.0 + np.cos(2.0 * np.pi * (places - x) / width)
        places = np.clip(places, 0.0, self.spec.free_length)
        rows = np.array([self.deflection(float(place)) for place in places])
        out: Array = weights @ rows / weights.sum()
        return out


def _hermite(s: Array, h: float) -> tuple[Array, Array, Array]:
    """Cubic Hermite functions, their first and second derivatives in x; (4, n)."""
    value = np.array(
        [
            1 - 3 * s**2 + 2 * s**3,
            h * (s - 2 * s**2 + s**3),
            3 * s**2 - 2 * s**3,
            h * (-(s**2) + s**3),
        ]
    )
    slope = np.array(
        [
            (-6 * s + 6 * s**2) / h,
            1 - 4 * s + 3 * s**2,
            (6 * s - 6 * s**2) / h,
            -2 * s + 3 * s**2,
        ]
    )
    bend = np.array(
        [
            (-6 + 12 * s) / h**2,
            (-4 + 6 * s) / h,
            (6 - 12 * s) / h**2,
            (-2 + 6 * s) / h,
        ]
    )
    return value, slope, bend


def _mesh(spec: RopeSpec, n_modes: int, refinement: float) -> Array:
    """Nodes graded from the bending length at the socket to the shortest wave."""
    longest = spec.free_length / (4.0 * n_modes * refinement + 10)
    step = min(spec.bending_length / (6.0 * refinement), longest)
    nodes = [0.0]
    while nodes[-1] + 1.5 * step < spec.free_length:
        nodes.append(nodes[-1] + step)
        step = min(step * 1.2, longest)
    nodes.append(spec.free_length)
    rod: list[float] = []
    if spec.rod is not None:
        rod = [-spec.rod.free_length * (1 - i / 4) for i in range(4)]
    return np.array(rod + nodes)


def element_entries(spec: RopeSpec, nodes: Array) -> tuple[Array, Array, Array, Array]:
    """Row, column, stiffness and mass of every element entry."""
    rows, columns, stiffness, mass = [], [], [], []
    for i, h in enumerate(np.diff(nodes)):
        density, rigidity = spec.linear_density, spec.flexural_rigidity
        tension = spec.hitch_tension + density * GRAVITY * (nodes[i] + h * _POINTS)
        if spec.rod is not None and nodes[i + 1] <= 0.0:
            area = np.pi * spec.rod.diameter**2 / 4.0
            density = area * STEEL_DENSITY
            rigidity = solid_rod_rigidity(spec.rod.diameter)
            tension = np.full(4, spec.hitch_tension)
        value, slope, bend = _hermite(_POINTS, h)
        weight = h * _WEIGHTS
        block = (slope * (tension * weight)) @ slope.T
        block += rigidity * (bend * weight) @ bend.T
        place = np.arange(2 * i, 2 * i + 4)
        rows.append(np.repeat(place, 4))
        columns.append(np.tile(place, 4))
        stiffness.append(block.ravel())
        mass.append((density * (value * weight) @ value.T).ravel())
    return (
        np.concatenate(rows),
        np.concatenate(columns),
        np.concatenate(stiffness),
        np.concatenate(mass),
    )


def static_deflection(spec: RopeSpec, place: float, width: float = 0.03) -> float:
    """Deflection under a transverse force of 1 N spread over a width. [m/N]

    place counts from the socket [m]; the tension is that of the spec.
    """
    edges = [place - width / 2, place + width / 2]
    nodes = np.unique(np.append(_mesh(spec, 60, 1.0), edges))
    n = 2 * len(nodes)
    rows, columns, stiffness, _ = element_entries(spec, nodes)
    K = csc_array((stiffness, (rows, columns)), shape=(n, n)).toarray()
    load = np.zeros(n)
    for i, h in enumerate(np.diff(nodes)):
        if abs(nodes[i] + h / 2 - place) < width / 2:
            value = _hermite(_POINTS, h)[0]
            load[2 * i : 2 * i + 4] += value @ (h * _WEIGHTS) / width
    free = np.setdiff1d(np.arange(n), [0, 1, n - 2])
    shape = np.zeros(n)
    shape[free] = np.linalg.solve(K[np.ix_(free, free)], load[free])
    return float(load @ shape)


def find_modes(spec: RopeSpec, *, n_modes: int, refinement: float = 1.0) -> RopeModes:
    """Solve the eigenproblem of one rope for its lowest modes."""
    nodes = _mesh(spec, n_modes, refinement)
    n = 2 * len(nodes)
    rows, columns, stiffness, mass = element_entries(spec, nodes)
    K = csc_array((stiffness, (rows, columns)), shape=(n, n)).tolil()
    M = csc_array((mass, (rows, columns)), shape=(n, n)).tolil()
    socket = int(np.searchsorted(nodes, 0.0))
    held = [0, 1, n - 2]
    if spec.rod is not None:
        K[0, 0] += spec.rod.plate_stiffness
        K[1, 1] += spec.rod.plate_rotation_stiffness
        M[2 * socket, 2 * socket] += spec.rod.socket_mass
        # a socket about 0.1 m long, as a slender bar about its end
        M[2 * socket + 1, 2 * socket + 1] += spec.rod.socket_mass * 0.1**2 / 3.0
        held = [n - 2]
    free = np.setdiff1d(np.arange(n), held)
    K, M = K.tocsc(), M.tocsc()
    inner_K, inner_M = K[free][:, free], M[free][:, free]
    squares, vectors = _lowest(inner_K, inner_M, n_modes)
    shapes = np.zeros((n, n_modes))
    shapes[free] = vectors
    # transverse force on what lies below the socket: reaction, or rod force
    if spec.rod is None:
        residual = K[[0]] @ shapes - (M[[0]] @ shapes) * squares
        signal = np.asarray(residual).ravel()
    else:
        signal = shapes[2 * socket] * spec.rod.plate_stiffness
    return RopeModes(
        spec=spec,
        frequencies=np.sqrt(squares) / (2.0 * np.pi),
        nodes=nodes,
        shapes=shapes,
        socket_signal=signal,
    )


def _lowest(K: csc_array, M: csc_array, n_modes: int) -> tuple[Array, Array]:
    """Lowest eigenvalues and mass-normalised vectors."""
    # shift-invert, not a dense solver: short elements at the socket make the mass
    # matrix so uneven that a dense solver loses four digits
    start = np.ones(K.shape[0])
    squares, vectors = eigsh(K, k=n_modes, M=M, sigma=0.0, v0=start)
    order = np.argsort(squares)
    return squares[order], vectors[:, order]
