"""A stiff rope in one plane on a graded grid of finite differences, on its hitch.

The rope runs from a socket (node 0) to the sheave (node n_cells, held at zero, free of
moment). The socket is a mass at the tip of a rod that swings about its plate: rod and
rope leave the socket in one direction, so the rope is clamped in the rod. The plate is
the last degree of freedom, shared by all ropes of a set. Cells grow from the bending
length at the socket to an even size.

The scheme in time is (A + step/2 C)(u+ - u) = (A - step/2 C)(u - u-) - step^2 K u with
A = M + step^2 Theta. Theta changes nothing to first order; in even cells it makes the
errors of time step and grid cancel; in small cells, rod and plate it keeps the scheme
stable. The frequencies of
the scheme follow from K shape = lambda A shape without approximation:
sin(pi f step) = step sqrt(lambda) / 2.

Nothing here comes from the program under test nor from the finite elements.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.sparse import csc_array, diags_array
from scipy.sparse.linalg import splu

from tests.synthesis.ropes import GRAVITY, RopeSpec

Array = NDArray[np.float64]

STEP = 1.0 / 8000.0  # [s]
MOST_CELLS = 300  # of even size
GROWTH = 1.2
STABLE_BY = 0.05  # of the mass is left to the shortest wave
CELLS_IN_BENDING_LENGTH = 5.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Hitch:
    """Rod and socket of one rope.

    Attributes
    ----------
    rod_free : float
        From the plate to the socket mouth. [m]
    stiffness : float
        Lateral, of the socket against the plate: pendulum and bending. [N/m]
    socket_mass : float
        Felt at the socket mouth. [kg]
    damping_ratio : float
        Of the socket on its rod. [1]
    """

    rod_free: float
    stiffness: float
    socket_mass: float
    damping_ratio: float = 0.03


@dataclass(frozen=True, kw_only=True, slots=True)
class Plate:
    """Hitch plate under all rods.

    Attributes
    ----------
    stiffness : float
        Lateral. [N/m]
    mass : float
        [kg]
    damping_ratio : float
        [1]
    """

    stiffness: float
    mass: float
    damping_ratio: float = 0.03

    @property
    def damping(self) -> float:
        """Of a dashpot to the ground. [N s/m]"""
        return 2.0 * self.damping_ratio * float(np.sqrt(self.stiffness * self.mass))


@dataclass(frozen=True, kw_only=True, slots=True)
class Loss:
    """Air and internal friction; the damping ratio is (air / w + internal w) / 2.

    Both act in place and at once, so they take energy from every motion and leave the
    frequencies alone to the square of the damping ratio.

    Attributes
    ----------
    air : float
        Drag over mass. [1/s]
    internal : float
        Drag on the change of slope over tension. [s]
    """

    air: float
    internal: float

    def ratio(self, frequency: float) -> float:
        """Damping ratio at a frequency [Hz]. [1]"""
        angular = 2.0 * np.pi * frequency
        return float(0.5 * (self.air / angular + self.internal * angular))


def loss_through(low: tuple[float, float], high: tuple[float, float]) -> Loss:
    """Loss with given damping ratios at two frequencies: (frequency [Hz], ratio)."""
    angular = 2.0 * np.pi * np.array([low[0], high[0]])
    rows = 0.5 * np.array([1.0 / angular, angular]).T
    air, internal = np.linalg.solve(rows, [low[1], high[1]])
    return Loss(air=max(float(air), 0.0), internal=max(float(internal), 0.0))


def even_cell(specs: tuple[RopeSpec, ...]) -> float:
    """Size of the even cells over the free length, for all ropes of a set. [1]"""
    sizes = []
    for spec in specs:
        top = spec.hitch_tension + spec.linear_density * GRAVITY * spec.free_length
        travel = np.sqrt(top / spec.linear_density) * STEP
        sizes.append(1.5 * travel / spec.free_length)
    return float(min(max(*sizes, 1.0 / MOST_CELLS), 1.0 / 24.0))


def graded_cells(first: float, even: float) -> Array:
    """Sizes of cells from the socket up, of total one."""
    sizes = [min(first, even)]
    while sizes[-1] < even:
        sizes.append(min(sizes[-1] * GROWTH, even))
    rest = max(1, round((1.0 - sum(sizes)) / even))
    cells = np.array(sizes + [even] * rest)
    out: Array = cells / cells.sum()
    return out


def common_cells(specs: tuple[RopeSpec, ...]) -> Array:
    """One grading for all ropes of a set, as shares of the free length."""
    shortest = min(spec.bending_length / spec.free_length for spec in specs)
    return graded_cells(shortest / CELLS_IN_BENDING_LENGTH, even_cell(specs))


@dataclass(frozen=True, kw_only=True)
class PlaneOfRope:
    """Matrices of one rope in one plane; the last row is the plate.

    Attributes
    ----------
    spec : RopeSpec
        The rope; its rod is not used.
    hitch : Hitch
        Below it.
    cells : ndarray, shape (n_cells,)
        Shares of the free length, of sum one. [1]
    length : float
        Socket mouth to tangent point in this plane. [m]
    loss : Loss
        Of the rope.
    """

    spec: RopeSpec
    hitch: Hitch
    cells: Array
    length: float
    loss: Loss

    @property
    def sizes(self) -> Array:
        """Of the cells. [m]"""
        return self.cells * self.length

    @property
    def places(self) -> Array:
        """Of the nodes that move, from the socket. [m]"""
        return np.concatenate([[0.0], np.cumsum(self.sizes)[:-1]])

    @property
    def tensions(self) -> Array:
        """In the middle of the cells, grown by own weight. [N]"""
        middles = self.places + 0.5 * self.sizes
        return self.spec.hitch_tension + self.spec.linear_density * GRAVITY * middles

    @cached_property
    def differences(self) -> csc_array:
        """Rise over each cell, shape (n_cells, n_cells + 1)."""
        n = len(self.cells)
        rises = diags_array([-1.0, 1.0], offsets=[0, 1], shape=(n, n + 1)).tolil()
        rises[n - 1, n] = 0.0  # the sheave is held; that column is the plate's
        return rises.tocsc()

    @cached_property
    def curvatures(self) -> csc_array:
        """Curvature at each node times the root of its share of length."""
        n, sizes = len(self.cells), self.sizes
        slopes = diags_array(1.0 / sizes) @ self.differences
        rod = csc_array(
            ([1.0 / self.hitch.rod_free, -1.0 / self.hitch.rod_free], ([0, 0], [0, n])),
            shape=(1, n + 1),
        )
        below = csc_array(np.vstack([rod.toarray(), slopes.toarray()[:-1]]))
        shares = 0.5 * np.concatenate([[sizes[0]], sizes[1:] + sizes[:-1]])
        return diags_array(1.0 / np.sqrt(shares)) @ (slopes - below)

    @cached_property
    def stretching(self) -> csc_array:
        """Twice the stretch is u . stretching u. [1/m]"""
        rises = self.differences
        return (rises.T @ diags_array(1.0 / self.sizes) @ rises).tocsc()

    @cached_property
    def stiffness(self) -> csc_array:
        """K without the plate's own. [N/m]"""
        rises = self.differences
        taut = rises.T @ diags_array(self.tensions / self.sizes) @ rises
        bent = self.spec.flexural_rigidity * (self.curvatures.T @ self.curvatures)
        return (taut + bent + self._rod(self.hitch.stiffness)).tocsc()

    def _rod(self, stiffness: float) -> csc_array:
        """Spring between socket and plate."""
        n = len(self.cells)
        values = stiffness * np.array([1.0, 1.0, -1.0, -1.0])
        return csc_array((values, ([0, n, 0, n], [0, n, n, 0])), shape=(n + 1, n + 1))

    @cached_property
    def mass(self) -> Array:
        """Of the nodes; of the plate zero. [kg]"""
        sizes = self.sizes
        shares = 0.5 * np.concatenate([[sizes[0]], sizes[1:] + sizes[:-1], [0.0]])
        masses: Array = self.spec.linear_density * shares
        masses[0] += self.hitch.socket_mass
        return masses

    @cached_property
    def inertia(self) -> csc_array:
        """A without the plate's own. [kg]"""
        rises, sizes = self.differences, self.sizes
        waves = np.sqrt(self.tensions / self.spec.linear_density) * STEP / sizes
        share = np.where(waves > 1.0, 0.25, (1.0 - waves**-2.0) / 12.0)
        theta = rises.T @ diags_array(share * self.tensions / sizes) @ rises
        inner, rigidity = self.curvatures[1:], self.spec.flexural_rigidity
        theta = theta + inner.T @ diags_array(self._bending_share()) @ inner
        # curvature at the socket, (a - b)^2 <= 2 a^2 + 2 b^2: b is the rod's slope
        hold = 2.0 * rigidity / sizes[0]
        first = rises[[0]] / sizes[0]
        theta = theta + 0.5 * hold * (first.T @ first)
        rod = np.zeros(len(self.cells) + 1)
        rod[[0, -1]] = 0.5 * self.hitch.stiffness + hold / self.hitch.rod_free**2
        return (diags_array(self.mass + STEP**2 * rod) + STEP**2 * theta).tocsc()

    def _bending_share(self) -> Array:
        """Of each curvature but the socket's in Theta. [N m^2]

        In even cells the error of a wave is of third order in s = (k h)^2 if
        4 sin^2(w step / 2) (1 + a s + b s^2) = c2 s + e s^2 with c2, e below,
        a = (c2 - 1) / 12 and b = (c2^2 - 1) / 240 - (e / c2) (1 - c2) / 12, s now
        4 sin^2(k h / 2); b must leave the scheme stable at s = 4.
        """
        sizes, spec = self.sizes, self.spec
        tensions = 0.5 * (self.tensions[1:] + self.tensions[:-1])
        size, density = sizes[1:], spec.linear_density
        c2 = tensions / density * (STEP / size) ** 2
        e = spec.flexural_rigidity / density * STEP**2 / size**4
        accurate = (c2**2 - 1.0) / 240.0 - (e / c2) * (1.0 - c2) / 12.0
        stable = (STABLE_BY - 1.0 - (c2 - 1.0) / 3.0 + c2 + 4.0 * e) / 16.0
        even = np.isclose(sizes[1:], sizes[:-1]) & (c2 < 1.0)
        share = np.where(even, np.maximum(accurate, stable), 0.25 * e)
        out: Array = share * density * size**4 / STEP**2
        return out

    @cached_property
    def damping(self) -> csc_array:
        """C without the plate's own. [N s/m]"""
        rises = self.differences
        taut = rises.T @ diags_array(self.tensions / self.sizes) @ rises
        hitch = self.hitch
        drag = self.loss.air * self.mass
        drag[0] = (
            2.0 * hitch.damping_ratio * np.sqrt(hitch.stiffness * hitch.socket_mass)
        )
        return (diags_array(drag) + self.loss.internal * taut).tocsc()

    @cached_property
    def carried(self) -> Array:
        """Shape when the plate moves by one and nothing swings; the plate last."""
        K = self.stiffness
        shape: Array = np.append(splu(K[:-1, :-1]).solve(-K[:-1, [-1]].toarray()), 1.0)
        return shape

    def window(self, place: float, width: float) -> Array:
        """Weights of nodes under a raised cosine, of sum one, plate included."""
        x = place * self.length
        reach = np.clip((self.places - x) / (0.5 * width), -1.0, 1.0)
        weights = (1.0 + np.cos(np.pi * reach)) * self.mass_shares
        if weights[1:].sum() <= 0.0 or np.count_nonzero(weights) < 3:
            weights = np.maximum(0.0, 1.0 - np.abs(self.places - x) / self.sizes.max())
        weights[0] = 0.0
        return np.append(weights / weights.sum(), 0.0)

    @property
    def mass_shares(self) -> Array:
        """Length that belongs to each node. [m]"""
        sizes = self.sizes
        return 0.5 * np.concatenate([[sizes[0]], sizes[1:] + sizes[:-1]])


def true_frequencies(
    plane: PlaneOfRope, plate_stiffness: float, plate_inertia: float, highest: float
) -> Array:
    """Natural frequencies of the scheme for one rope on the plate, at rest tension.

    Plate stiffness and inertia include what the other ropes add when they are carried
    along without swinging.
    """
    K, A = plane.stiffness.toarray(), plane.inertia.toarray()
    K[-1, -1] += plate_stiffness
    A[-1, -1] += plate_inertia
    top = (2.0 * np.sin(np.pi * highest * STEP) / STEP) ** 2
    squares = eigh(K, A, eigvals_only=True, subset_by_value=(0.0, top))
    found: Array = np.arcsin(0.5 * STEP * np.sqrt(squares)) / (np.pi * STEP)
    return found
