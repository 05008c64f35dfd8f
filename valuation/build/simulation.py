"""Quasi-Monte Carlo points: a rank-1 lattice, shifted at random, so that few draws tell much and say how well.

Each of several independent random shifts of the same lattice gives an unbiased answer of its own; their scatter is the
error of the mean answer. The same seed gives the same points to the last bit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from valuation.errors import PlanError
from valuation.regression.distribution import FloatArray

GENERATING_VECTOR = (
    1, 182667, 469891, 498753, 110745, 446247, 250185, 118627, 245333, 283199, 408519, 391023, 246327, 126539,
    399185, 461527, 300343, 69681, 516695, 436179, 106383, 238523, 413283, 70841, 47719, 300129, 113029, 123925,
    410745, 211325, 17489, 511893, 40767, 186077, 519471, 255369, 101819, 243573, 66189, 152143, 503455, 113217,
    132603, 463967, 297717, 157383, 224015, 502917, 36237, 94049, 170665, 79397, 123963, 223451, 323871, 303633,
    98567, 318855, 494245, 477137, 177975, 64483, 26695, 88779, 94497, 239429, 381007, 110205, 339157, 73397,
    407559, 181791, 442675, 301397, 32569, 147737, 189949, 138655, 350241, 63371, 511925, 515861, 434045, 383435,
    249187, 492723, 479195, 84589, 99703, 239831, 269423, 182241, 61063, 130789, 143095, 471209, 139019, 172565,
    487045, 304803, 45669, 380427, 19547, 425593, 337729, 237863, 428453, 291699, 238587, 110653, 196113, 465711,
    141583, 224183, 266671, 169063, 317617, 68143, 291637, 263355, 427191, 200211, 365773, 254701, 368663, 248047,
    209221, 279201, 323179, 80217, 122791, 316633, 118515, 14253, 129509, 410941, 402601, 511437, 10469, 366469,
    463959, 442841, 54641, 44167, 19703, 209585, 69037, 33317, 433373, 55879, 245295, 10905, 468881, 128617, 417919,
    45067, 442243, 359529, 51109, 290275, 168691, 212061, 217775, 405485, 313395, 256763, 152537, 326437, 332981,
    406755, 423147, 412621, 362019, 279679, 169189, 107405, 251851, 5413, 316095, 247945, 422489, 2555, 282267,
    121027, 369319, 204587, 445191, 337315, 322505, 388411, 102961, 506099, 399801, 254381, 452545, 309001, 147013,
    507865, 32283, 320511, 264647, 417965, 227069, 341461, 466581, 386241, 494585, 201479, 151243, 481337, 68195,
    75401, 58359, 448107, 459499, 9873, 365117, 350845, 181873, 7917, 436695, 43899, 348367, 423927, 437399, 385089,
    21693, 268793, 49257, 250211, 125071, 341631, 310163, 94631, 108795, 21175, 142847, 383599, 71105, 65989,
    446433, 177457, 107311, 295679, 442763, 40729, 322721, 420175, 430359, 480757,
)  # fmt: skip
"""Order-2 vector for any power of two up to 2^20 points and up to 250 dimensions.

Cools, Kuo and Nuyens (2006), Constructing embedded lattice rules for multivariate integration, SIAM Journal on
Scientific Computing 28(6), 2162-2188; the authors publish the numbers.
"""

MOST_POINTS = 2**20
"""About a million points: more cost memory and time, and no printed figure needs them."""


@dataclass(frozen=True, slots=True)
class Simulation:
    """How many scenarios are drawn, and from which seed.

    Parameters
    ----------
    scenarios : int
        In all; ``shifts`` times a power of two.
    shifts : int
        Independent random shifts of the lattice, >= 2; their scatter gives the error of each figure.
    seed : int
        0 or more. The same seed and input give the same answer to the last bit.
    """

    scenarios: int = 4096
    shifts: int = 8
    seed: int = 20_24

    def __post_init__(self) -> None:
        points = self.scenarios // max(self.shifts, 1)
        fits = self.shifts >= 2 and points * self.shifts == self.scenarios and points & (points - 1) == 0
        if not (fits and 2 <= points <= MOST_POINTS):
            raise PlanError(
                f"Cannot draw {self.scenarios} scenarios in {self.shifts} shifts: scenarios must be the number of "
                "shifts (2 or more) times a power of two. Ask for example for 4096 scenarios in 8 shifts."
            )
        if self.seed < 0:
            raise PlanError(f"The seed must be a whole number of 0 or more; found {self.seed}. Choose another.")

    def uniforms(self, dimensions: int) -> FloatArray:
        """Points in the open unit cube, shape (scenarios, dimensions), shift after shift.

        Dimensions beyond the generating vector's are filled with plain random numbers of the same seed.
        """
        source = np.random.default_rng(self.seed)
        points = self.scenarios // self.shifts
        lattice_dimensions = min(dimensions, len(GENERATING_VECTOR))
        vector = np.asarray(GENERATING_VECTOR[:lattice_dimensions], dtype=np.int64)
        lattice = (np.arange(points, dtype=np.int64)[:, None] * vector % points) / points
        moves = source.random((self.shifts, 1, lattice_dimensions))
        answer = np.empty((self.scenarios, dimensions))
        answer[:, :lattice_dimensions] = ((lattice + moves) % 1.0).reshape(self.scenarios, lattice_dimensions)
        if dimensions > lattice_dimensions:
            answer[:, lattice_dimensions:] = source.random((self.scenarios, dimensions - lattice_dimensions))
        return np.clip(answer, 2.0**-53, 1 - 2.0**-53)

    def by_shift(self, values: FloatArray) -> FloatArray:
        """Mean over the scenarios of each shift; ``values`` of shape (scenarios, ...) -> (shifts, ...)."""
        return np.asarray(values.reshape(self.shifts, -1, *values.shape[1:]).mean(axis=1))

    def error(self, values: FloatArray) -> float:
        """Standard error of the mean of ``values``, shape (scenarios,), from the scatter between shifts."""
        return shift_error(self.by_shift(values))


def shift_error(answers: FloatArray) -> float:
    """Standard error of the mean of independent answers, shape (shifts,)."""
    return float(np.std(answers, ddof=1) / np.sqrt(len(answers)))
