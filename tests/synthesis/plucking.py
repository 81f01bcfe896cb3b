"""What a sensor hears of a plucked rope: modal sums, decay, glide, two planes."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from tests.synthesis.ropes import RopeModes, RopeSpec, find_modes

Array = NDArray[np.float64]

MODELLING_RATE = 4000.0
HIGHEST_MODELLED = 800.0
MOST_MODES = 110


class Sensor(StrEnum):
    """Where the sound is taken."""

    MICROPHONE = "microphone"  # close to the rope: acceleration near one place
    PICKUP = "pickup"  # on socket or plate: force on the hitch, its rate of change


@dataclass(frozen=True, kw_only=True)
class Damping:
    """Damping ratio, linear in frequency.

    Attributes
    ----------
    at_zero, at_400 : float
        Damping ratio at 0 and at 400 Hz. [1]
    """

    at_zero: float
    at_400: float

    def rates(self, frequencies: Array) -> Array:
        """Rates of decay. [1/s]"""
        ratio = self.at_zero + (self.at_400 - self.at_zero) * frequencies / 400.0
        out: Array = 2.0 * np.pi * frequencies * np.minimum(ratio, 0.02)
        return out


@dataclass(frozen=True, kw_only=True)
class Pluck:
    """One pluck: pulled aside over a width, let go.

    Attributes
    ----------
    onset : float
        Moment of release. [s]
    place : float
        From the socket, as a fraction of the free length. [1]
    width : float
        Of finger or strap. [m]
    amplitude : float
        Deflection at the place. [m]
    release : float
        Time the finger takes to slip off. [s]
    """

    onset: float
    place: float
    width: float
    amplitude: float
    release: float


@dataclass(frozen=True, kw_only=True)
class Planes:
    """The two planes in which a rope swings.

    Attributes
    ----------
    split : float
        Weaker plane's frequency over the stronger's, less one. [1]
    weak_level : float
        Amplitude of the weaker plane, relative. [1]
    """

    split: float = 0.0
    weak_level: float = 0.0


def number_of_modes(spec: RopeSpec) -> int:
    """How many modes lie below the highest frequency modelled, at most MOST_MODES."""
    speed = np.sqrt(spec.middle_tension / spec.linear_density)
    ideal = speed / (2.0 * spec.free_length)
    stiffness = (np.pi * spec.bending_length / spec.free_length) ** 2
    n = np.arange(1, MOST_MODES + 1)
    below = n * ideal * np.sqrt(1.0 + stiffness * n**2) < HIGHEST_MODELLED
    return max(6, int(below.sum()))


def solve(spec: RopeSpec) -> RopeModes:
    """All modes that matter for sound."""
    return find_modes(spec, n_modes=number_of_modes(spec))


def modal_amplitudes(modes: RopeModes, pluck: Pluck) -> Array:
    """Modal coordinates of the static shape before release, scaled to the amplitude."""
    angular = 2.0 * np.pi * modes.frequencies
    x = pluck.place * modes.spec.free_length
    amplitudes: Array = modes.averaged_deflection(x, pluck.width) / angular**2
    amplitudes *= pluck.amplitude / float(modes.deflection(x) @ amplitudes)
    amplitudes *= np.exp(-0.5 * (angular * pluck.release) ** 2)
    return amplitudes


def sensed(modes: RopeModes, sensor: Sensor, place: float, reach: float) -> Array:
    """Signal of each mode at unit amplitude; place as a fraction, reach in m."""
    angular: Array = 2.0 * np.pi * modes.frequencies
    if sensor is Sensor.PICKUP:
        return modes.socket_signal * angular
    x = place * modes.spec.free_length
    return modes.averaged_deflection(x, reach) * angular**2


def glide(spec: RopeSpec, pluck: Pluck, axial_stiffness: float) -> float:
    """Relative rise of frequency just after release.

    The pulled rope is longer by A^2 (1/a + 1/b) / 2; half of that energy is potential
    on average while it swings, so half the stretch stays, and decays as energy does.
    """
    a = pluck.place * spec.free_length
    b = spec.free_length - a
    stretch = 0.5 * pluck.amplitude**2 * (1.0 / a + 1.0 / b)
    return float(axial_stiffness * stretch / (4.0 * spec.middle_tension))


def sum_of_decays(amplitudes: Array, exponents: Array, n_samples: int) -> Array:
    """Real part of sum of a_n exp(lambda_n k), k = 0 ... n_samples - 1.

    Written as a product of two small matrices: exp(lambda (b B + k)).
    """
    block = int(np.ceil(np.sqrt(n_samples)))
    coarse = np.exp(np.outer(np.arange(block) * block, exponents)) * amplitudes
    fine = np.exp(np.outer(exponents, np.arange(block)))
    total: Array = coarse.real @ fine.real - coarse.imag @ fine.imag
    return total.ravel()[:n_samples]


def ring(
    modes: RopeModes,
    weights: Array,
    damping: Damping,
    *,
    n_samples: int,
    planes: Planes | None = None,
    rise: float = 0.0,
    phases: Array | None = None,
) -> Array:
    """Sound of one release at MODELLING_RATE, from the moment of release.

    weights are the amplitudes of the modes in the sensor; rise is the glide's start.
    """
    frequencies = modes.frequencies
    rates = damping.rates(frequencies)
    margin = 200 if rise else 0
    complex_weights = weights.astype(complex)
    if phases is not None:
        complex_weights = complex_weights * np.exp(1j * phases)
    total = np.zeros(n_samples + margin)
    chosen = planes or Planes()
    for level, scale in ((1.0, 1.0), (chosen.weak_level, 1.0 + chosen.split)):
        if level == 0.0:
            continue
        exponents = (-rates + 2j * np.pi * frequencies * scale) / MODELLING_RATE
        total += level * sum_of_decays(complex_weights, exponents, len(total))
    if rise:
        rate = 2.0 * float(rates[0])
        moments = np.arange(len(total)) / MODELLING_RATE
        wanted = moments + rise * (1.0 - np.exp(-rate * moments)) / rate
        total = CubicSpline(moments, total)(wanted[:n_samples])
    attack = max(2, int(0.0015 * MODELLING_RATE))
    total[:attack] *= np.sin(0.5 * np.pi * np.arange(attack) / attack) ** 2
    return total
