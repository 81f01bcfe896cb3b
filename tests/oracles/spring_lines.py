"""What springs of one hitch say, spring by spring in plain loops.

Imports nothing from the package. Newtons and metres; a reading is known to `OWN`
against the set and shares `SHARED` with it.
"""

from dataclasses import dataclass, field
from itertools import permutations
from math import hypot, log, pi, sqrt
from statistics import median

import numpy as np

OWN, SHARED = 0.005, 0.05  # of a reading [1]
RATE_DOUBT = 0.05  # of one rate, and of one spring against the others [1]
READING, FREE_DOUBT = 0.0005, 0.001  # of a length read, of free lengths [m]
SCATTER = hypot(READING, FREE_DOUBT)


@dataclass(kw_only=True)
class Springs:
    """Lengths, tensions read, and what is known of the springs."""

    lengths: list[float]
    tensions: list[float]
    rate: float
    free: float
    solid: float
    notes: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        n = len(self.lengths)
        self.own = OWN * sqrt((n - 1) / n)
        self.loads = [
            self.rate * (self.free - length)
            if self.solid + 0.0005 < length < self.free
            else None
            for length in self.lengths
        ]
        self.line, self.scatter = self._line_of_set()
        out = [self._is_off_median(i) or self._is_off_line(i) for i in range(n)]
        self.outliers = out
        self._of_each()
        among = [i for i in range(n) if not out[i]]
        self._of_loads([i for i in among if self.loads[i] is not None])
        self._of_pairs(among)

    def ratio(self, i: int) -> tuple[float, float]:
        """Logarithm of reading over load, and its width."""
        load = self.loads[i]
        assert load is not None
        of_length = self.rate * SCATTER / load
        return log(self.tensions[i] / load), hypot(of_length, RATE_DOUBT, self.own)

    def _is_off_median(self, i: int) -> bool:
        told = [j for j, load in enumerate(self.loads) if load is not None]
        if i not in told or len(told) < 3:
            return False
        every = [self.ratio(j) for j in told]
        of_median = pi / 2 * sum(w**2 for _, w in every) / len(every) ** 2
        ratio, width = self.ratio(i)
        off = abs(ratio - median(r for r, _ in every))
        return off > 3.5 * hypot(width, sqrt(of_median))

    def _fitted(self, among: list[int]) -> tuple[float, float, float, float, float]:
        """Slope, its width for a scatter of one, the middle, and the scatter."""
        x = np.array([self.tensions[i] for i in among])
        y = np.array([self.lengths[i] for i in among])
        slope, level = np.polyfit(x - x.mean(), y, 1)
        left = float(((y - level - slope * (x - x.mean())) ** 2).sum())
        scatter = sqrt((2 * SCATTER**2 + left) / (2 + max(0, len(among) - 2)))
        wide = 1 / sqrt(float(((x - x.mean()) ** 2).sum()))
        return float(slope), wide, float(x.mean()), float(y.mean()), scatter

    def _line_of_set(self) -> tuple[tuple[float, float, float, float] | None, float]:
        """Rate, its width, tension and length of the middle; none if not told."""
        every = list(range(len(self.lengths)))
        if len(every) < 4:
            return None, 0.0
        off = []
        for i in every:
            others = [j for j in every if j != i]
            slope, wide, x, y, scatter = self._fitted(others)
            away = self.tensions[i] - x
            width = scatter * sqrt(1 + 1 / len(others) + (wide * away) ** 2)
            off.append(abs(self.lengths[i] - y - slope * away) / width)
        if max(off) > 3.5:
            every.remove(off.index(max(off)))
        slope, wide, x, y, scatter = self._fitted(every)
        if slope >= 0 or scatter * wide > -0.5 * slope:
            return None, 0.0
        return (-1 / slope, scatter * wide / slope**2, x, y), scatter

    def _is_off_line(self, i: int) -> bool:
        if self.line is None:
            return False
        rate, _, tension, length = self.line
        off = self.tensions[i] - tension + rate * (self.lengths[i] - length)
        width = hypot(self.own * self.tensions[i], rate * self.scatter)
        return abs(off) > 3.5 * width

    def _of_each(self) -> None:
        for length, is_out in zip(self.lengths, self.outliers, strict=True):
            if is_out:
                self.notes.add("outlier")
            if length >= self.free:
                self.notes.add("not pressed")
            elif length <= self.solid + 0.0005:
                is_short = length < self.solid - 0.001
                self.notes.add("short" if is_short else "solid")
        if self.line is not None:
            rate, width, *_ = self.line
            if abs(rate - self.rate) > 3.5 * hypot(width, RATE_DOUBT * self.rate):
                self.notes.add("rates disagree")

    def _of_loads(self, among: list[int]) -> None:
        if not among:
            return
        every = [self.ratio(i) for i in among]
        (low, of_low), (high, of_high) = min(every), max(every)
        if high - low > 4 * hypot(of_low, of_high):
            self.notes.add("disagree")
            return
        own = sqrt(sum(w**2 for _, w in every)) / len(every)
        shared = sqrt(OWN**2 + SHARED**2 - self.own**2)
        pressed = float(np.mean([self.free - self.lengths[i] for i in among]))
        width = hypot(own, shared, RATE_DOUBT, READING / pressed)
        if abs(float(np.mean([r for r, _ in every]))) > 3 * width:
            self.notes.add("all off")

    def _of_pairs(self, among: list[int]) -> None:
        longest = 0.0
        for i, j in permutations(among, 2):
            one, other = self.tensions[i], self.tensions[j]
            if one - other > 3 * hypot(self.own * one, self.own * other):
                longest = max(longest, self.lengths[i] - self.lengths[j])
        if longest > 3 * sqrt(2) * SCATTER:
            self.notes.add("reversed")
