"""From a figure to bytes: the same each time, with nothing of the machine in them."""

import pytest
from matplotlib.figure import Figure

from tension.figures.canvas import figure_bytes

STARTS = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}


def drawn(level: float = 1.0) -> Figure:
    figure = Figure(figsize=(3, 2), layout="constrained")
    axes = figure.add_subplot()
    axes.errorbar([1, 2], [level, 2], yerr=0.1, capsize=3)
    axes.fill_between([1, 2], [0, 0], [1, 1], hatch="//")
    axes.set_xlabel("Rope ≥ 1")
    return figure


@pytest.mark.parametrize("kind", sorted(STARTS))
def test_the_same_figure_gives_the_same_bytes(kind: str) -> None:
    first, second = figure_bytes(drawn(), kind), figure_bytes(drawn(), kind)
    assert first == second
    assert first.startswith(STARTS[kind])
    assert first != figure_bytes(drawn(level=1.5), kind)


@pytest.mark.parametrize("kind", ["svg", "pdf"])
def test_no_time_and_no_maker_go_into_the_file(kind: str) -> None:
    content = figure_bytes(drawn(), kind)
    for word in (b"dc:date", b"CreationDate", b"Producer", b"matplotlib.org"):
        assert word not in content
