"""The three kinds of site that the program's claims are measured on, as tables.

Every pair is a range. Levels are in decibels against the ring of the plucked rope: the
root mean square of its first second, after the recorder's low cut. Noise is measured in
the band 0 to 1000 Hz (all of the band below the Nyquist frequency if that is lower),
hum over all its multiples, both after the low cut too.
"""

from dataclasses import dataclass
from enum import StrEnum

from tests.synthesis.plucking import Sensor

Range = tuple[float, float]


class RegimeName(StrEnum):
    """The three kinds of site."""

    CONTACT = "contact"
    PHONE = "phone"
    HARD = "hard"


@dataclass(frozen=True, kw_only=True)
class Regime:
    """Ranges that a set and its recordings are drawn from.

    Attributes
    ----------
    sensor : Sensor
        Microphone by the rope or pickup on the hitch.
    free_length : range
        Of the first rope. [m]
    n_ropes : tuple of int
        Numbers of ropes to choose from.
    duration : range
        Of one recording; longer where several plucks are asked for. [s]
    n_plucks : tuple of int
        Numbers of plucks to choose from, per rope.
    rates : tuple of int
        Sampling rates to choose from. [Hz]
    low_cut : range
        Drawn evenly on a logarithmic axis. [Hz]
    low_cut_orders : tuple of int
        Orders to choose from.
    signal_to_noise : range
        [dB]
    hum_level : range
        [dB]
    neighbour_level : range
        All neighbours together. [dB]
    speech_share, knock_share, slam_share, handling_share, fan_share : float
        Share of recordings that hold such a disturbance. [1]
    clipping_share, gain_control_share, gate_share : float
        Share of sets whose recorder does that. [1]
    split : range
        Weak against strong plane, relative in frequency. [1]
    place : range
        Of the pluck, as a fraction of the free length, from the socket. [1]
    """

    sensor: Sensor
    free_length: Range
    n_ropes: tuple[int, ...] = (3, 4, 5, 6, 6, 7, 8)
    duration: Range = (6.0, 10.0)
    n_plucks: tuple[int, ...] = (1, 2, 3)
    rates: tuple[int, ...] = (8000, 16000, 22050, 32000, 44100, 48000)
    low_cut: Range = (1.0, 5.0)
    low_cut_orders: tuple[int, ...] = (1, 2)
    signal_to_noise: Range = (20.0, 40.0)
    hum_level: Range = (-35.0, -12.0)
    neighbour_level: Range = (-32.0, -14.0)
    speech_share: float = 0.0
    knock_share: float = 0.0
    slam_share: float = 0.0
    handling_share: float = 0.0
    fan_share: float = 0.0
    clipping_share: float = 0.0
    gain_control_share: float = 0.0
    gate_share: float = 0.0
    split: Range = (0.0, 0.002)
    place: Range = (0.08, 0.42)


REGIMES = {
    RegimeName.CONTACT: Regime(
        sensor=Sensor.PICKUP,
        free_length=(1.5, 8.0),
        clipping_share=0.05,
        knock_share=0.1,
    ),
    RegimeName.PHONE: Regime(
        sensor=Sensor.MICROPHONE,
        free_length=(1.5, 10.0),
        low_cut=(20.0, 120.0),
        low_cut_orders=(1, 2, 2, 3, 4),
        signal_to_noise=(10.0, 30.0),
        hum_level=(-30.0, -6.0),
        speech_share=0.1,
        knock_share=0.2,
        slam_share=0.05,
        handling_share=0.1,
        fan_share=0.1,
        clipping_share=0.1,
        gain_control_share=0.2,
    ),
    RegimeName.HARD: Regime(
        sensor=Sensor.MICROPHONE,
        free_length=(2.0, 20.0),
        duration=(3.0, 6.0),
        n_plucks=(1, 1, 2),
        low_cut=(20.0, 120.0),
        low_cut_orders=(1, 2, 2, 3, 4),
        signal_to_noise=(0.0, 20.0),
        hum_level=(-12.0, 3.0),
        speech_share=0.2,
        knock_share=0.3,
        slam_share=0.1,
        handling_share=0.15,
        fan_share=0.3,
        clipping_share=0.2,
        gain_control_share=0.3,
        gate_share=0.05,
    ),
}
