"""Direct stiffness solve of ropes between a rigid hitch and a fixed end.

Every rope is a chain of bar elements and spring elements with a node between each two;
a nut's travel is an imposed shortening of the element at the hitch. Imports nothing
from the package.
"""

import numpy as np
from numpy.typing import NDArray


def tensions_after_travel(
    *,
    chains: list[list[float]],
    nut_travels: list[float],
    load: float,
    load_positions: list[float] | None = None,
    tilt_stiffness: float | None = None,
) -> NDArray[np.float64]:
    """Tension of each rope when the hitch carries the load and the nuts have moved.

    chains: stiffness of each element of each rope, from the fixed end to the hitch.
    load_positions, tilt_stiffness: lever of each rope about the middle of the hitch,
    and what holds it against tilting; None for a hitch that only moves up and down.
    """
    n_inner = [len(chain) - 1 for chain in chains]
    start = np.concatenate([[0], np.cumsum(n_inner)]).astype(int)
    hitch = int(start[-1])
    tilts = load_positions is not None
    size = hitch + 1 + (1 if tilts else 0)
    stiffness = np.zeros((size, size))
    force = np.zeros(size)
    force[hitch] = load  # downwards positive
    if tilts and tilt_stiffness is not None:
        stiffness[hitch + 1, hitch + 1] += tilt_stiffness
    rows: list[list[tuple[NDArray[np.float64], float, float]]] = []
    for rope, chain in enumerate(chains):
        elements = []
        for place, rate in enumerate(chain):
            row = np.zeros(size)
            is_last = place == len(chain) - 1
            if place > 0:
                row[start[rope] + place - 1] -= 1.0
            if is_last:
                row[hitch] += 1.0
                if load_positions is not None:
                    row[hitch + 1] += load_positions[rope]
            else:
                row[start[rope] + place] += 1.0
            imposed = nut_travels[rope] if is_last else 0.0
            stiffness += rate * np.outer(row, row)
            force -= rate * imposed * row
            elements.append((row, rate, imposed))
        rows.append(elements)
    moved = np.linalg.solve(stiffness, force)
    return np.array(
        [
            rate * (float(row @ moved) + imposed)
            for elements in rows
            for row, rate, imposed in elements[-1:]
        ]
    )
