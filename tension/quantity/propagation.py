"""First-order propagation of named sources through any function of several inputs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tension.errors import InvalidValueError
from tension.quantity.estimate import Estimate, Sharing, Source

_STEP = 0.1
"""Step of the differences, in standard uncertainties. [1]"""

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Error:
    """One independent error, and how far it moves each input.

    Attributes
    ----------
    name : str
        Where it comes from.
    sharing : Sharing
        Which readings it is common to.
    moves : ndarray, shape (n_inputs,)
        Change of the inputs when the error is one standard uncertainty. [inputs]
    """

    name: str
    sharing: Sharing
    moves: FloatArray


@dataclass(frozen=True, kw_only=True, slots=True)
class Propagated:
    """Values of a function with what each source does to each of them.

    Attributes
    ----------
    values : ndarray, shape (n_outputs,)
        The function at the best estimates. [outputs]
    errors : tuple of Error
        The independent errors.
    moves : ndarray, shape (n_errors, n_outputs)
        Signed change of each value when one error is one standard uncertainty.
        [outputs]
    """

    values: FloatArray
    errors: tuple[Error, ...]
    moves: FloatArray

    def covariance(self, sharings: Sequence[Sharing] = tuple(Sharing)) -> FloatArray:
        """Covariance of the values from the sources of the given sharings.

        Parameters
        ----------
        sharings : sequence of Sharing
            Which sources count; all by default.

        Returns
        -------
        ndarray, shape (n_outputs, n_outputs)
            Covariance. [square of outputs]
        """
        wanted = [error.sharing in sharings for error in self.errors]
        moves = self.moves[np.array(wanted, dtype=bool)]
        covariance: FloatArray = moves.T @ moves
        return covariance

    def estimate(self, index: int) -> Estimate:
        """One value with its budget, a source for each name.

        Parameters
        ----------
        index : int
            Which of the values.

        Returns
        -------
        Estimate
            The value; errors of one name and sharing are put together.

        Raises
        ------
        InvalidValueError
            If the value is nought: a relative budget has no meaning there.
        """
        value = float(self.values[index])
        if value == 0:
            raise InvalidValueError(
                "a value of 0 has no relative uncertainty; use the covariance"
            )
        squares: dict[tuple[str, Sharing], float] = {}
        for error, move in zip(self.errors, self.moves[:, index], strict=True):
            key = (error.name, error.sharing)
            squares[key] = squares.get(key, 0.0) + float(move / value) ** 2
        return Estimate(
            value=value,
            sources=tuple(
                Source(name=name, relative=float(np.sqrt(square)), sharing=sharing)
                for (name, sharing), square in squares.items()
            ),
        )


def propagate(
    function: Callable[[FloatArray], ArrayLike], inputs: Sequence[Estimate]
) -> Propagated:
    """Propagate budgets through a function, to first order.

    A source that a kind or the set shares is one and the same error in every input
    that names it; a source of the rope's own is another error in each input.

    Parameters
    ----------
    function : callable
        Takes the inputs as an array of shape (n_inputs,), gives one value or an array
        of shape (n_outputs,).
    inputs : sequence of Estimate
        Values with their budgets.

    Returns
    -------
    Propagated
        Values and what each source does to them.
    """
    values = np.array([estimate.value for estimate in inputs], dtype=np.float64)
    return propagate_errors(function, values, find_errors(inputs))


def propagate_errors(
    function: Callable[[FloatArray], ArrayLike],
    values: FloatArray,
    errors: Sequence[Error],
) -> Propagated:
    """Propagate independent errors that may each move several inputs.

    Parameters
    ----------
    function : callable
        Takes an array of shape (n_inputs,), gives one value or shape (n_outputs,).
    values : ndarray, shape (n_inputs,)
        Best estimates. [inputs]
    errors : sequence of Error
        Independent errors.

    Returns
    -------
    Propagated
        Values and what each error does to them.

    Notes
    -----
    Central differences over a tenth of a standard uncertainty on either side; the
    neglected term is of third order, a hundredth of what a step of a whole standard
    uncertainty would neglect.

    References
    ----------
    .. [1] JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1.2,
       5.2.2 and note 2 to 5.1.3.
    """
    at_best = _read_only(np.atleast_1d(np.asarray(function(values), dtype=np.float64)))
    moves = np.zeros((len(errors), at_best.size))
    for i, error in enumerate(errors):
        step = _STEP * error.moves
        above = np.asarray(function(values + step), dtype=np.float64)
        below = np.asarray(function(values - step), dtype=np.float64)
        moves[i] = (above - below) / (2 * _STEP)
    return Propagated(values=at_best, errors=tuple(errors), moves=_read_only(moves))


def find_errors(inputs: Sequence[Estimate]) -> tuple[Error, ...]:
    """Find the independent errors behind the budgets of several inputs.

    Parameters
    ----------
    inputs : sequence of Estimate
        Values with their budgets.

    Returns
    -------
    tuple of Error
        One for each source of an input's own, one for each shared name.
    """
    moves: dict[tuple[str, Sharing, tuple[int, ...]], FloatArray] = {}
    for i, estimate in enumerate(inputs):
        for j, source in enumerate(estimate.sources):
            is_own = source.sharing is Sharing.OWN
            key = (source.name, source.sharing, (i, j) if is_own else ())
            row = moves.setdefault(key, np.zeros(len(inputs)))
            row[i] = np.hypot(row[i], estimate.value * source.relative)
    return tuple(
        Error(name=name, sharing=sharing, moves=_read_only(row))
        for (name, sharing, _), row in moves.items()
    )


def _read_only(values: FloatArray) -> FloatArray:
    """The same array, not to be written to."""
    values.flags.writeable = False
    return values
