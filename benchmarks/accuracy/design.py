"""Which tracings are made: each level of each factor equally often, otherwise by chance.

Tuning and reporting draw from streams of their own, so that no tracing serves both.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from benchmarks.accuracy.case import Case

TUNING, REPORTING = 1000, 9000
FAMILIES = {
    "left ventricle": 1,
    "mitral valve": 2,
    "aorta and left atrium": 3,
    "tricuspid annulus": 4,
    "doppler": 5,
    "mitral annulus": 6,
    "ecg record": 7,
    "pymust m-mode": 8,
    "pymust doppler": 9,
}


def draw(
    family: str, count: int, levels: Mapping[str, Sequence[str]], tune: bool
) -> list[Case]:
    """Return ``count`` cases of a family.

    Parameters
    ----------
    family : str
    count : int
    levels : mapping
        The levels of each factor; a level written twice comes twice as often.
    tune : bool
        Seeds for tuning, or those kept for reporting.

    Notes
    -----
    The levels of each factor are repeated to the length of the design and shuffled on their
    own, so a small design is balanced in each factor, and any two factors are independent.
    """
    start = (TUNING if tune else REPORTING) + 100_000 * FAMILIES[family]
    rng = np.random.default_rng(start)
    columns = {name: _shuffled(choices, count, rng) for name, choices in levels.items()}
    return [
        Case(
            family=family,
            number=number,
            seed=start * 10 + number,
            factors={name: column[number] for name, column in columns.items()},
        )
        for number in range(count)
    ]


def _shuffled(choices: Sequence[str], count: int, rng: np.random.Generator) -> list[str]:
    order = rng.permutation(len(choices))
    repeated = [choices[order[k % len(choices)]] for k in range(count)]
    return [repeated[k] for k in rng.permutation(count)]
