"""A decision as a table of losses: one row an action, one column a possible heart.

Limits come from ``data/guidelines``. What a guideline needs beside images (murmur, radiograph)
is taken as met until it is entered; entered and not met, the decision is made and drops out.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.law import is_known
from tableside.credibility.next_best.belief import Floats, Hearts
from tableside.credibility.next_best.losses import Decision
from tableside.model import Exam, quantities
from tableside.units import convert

Mask = NDArray[np.bool_]
COMPARE = {
    ">=": np.greater_equal,
    ">": np.greater,
    "<=": np.less_equal,
    "<": np.less,
}
RATIOS = {"PA:Ao": ("PAd", "Ao"), "AT:ET": ("AT", "ET")}
SPEED_OF = {"AV_PG": "AV_Vmax", "PV_PG": "PV_Vmax"}
ARTERY = ("PA:Ao", "AT:ET", "AT", "PR_Vmax")
VENTRICLES = ("LVIDDN", "TAPSEN")
TAPSE_EXPONENT = 0.285  # of the index in the guideline's limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The losses of one decision over the hearts.

    ``answers`` is the true answer of each heart, by number. ``read`` is set for a decision on
    a reading: relying on a new one, which lies in log(reading / truth) within ``tolerance``,
    is then one more action.
    """

    decision: Decision
    losses: Floats  # (actions, hearts)
    answers: NDArray[np.int64]  # (hearts,)
    read: str | None = None
    truth: Floats | None = None  # (hearts,), the log of what that reading reads

    @property
    def settled(self) -> float:
        """The probability that nothing more has to be done for it.

        That of the likeliest answer; of a reading, that it can be relied on, for one that
        cannot is settled only by another.
        """
        if self.read is None:
            return self.likeliest
        return float((self.answers == 0).mean())

    @property
    def likeliest(self) -> float:
        """The probability of the likeliest answer."""
        return float(np.bincount(self.answers).max() / len(self.answers))


def table(decision: Decision, exam: Exam, hearts: Hearts) -> Table | None:
    """Return the table of a decision, or None where it does not arise."""
    if not _arises(decision, exam):
        return None
    if decision.rule == "as read":
        return _as_read(decision, exam, hearts)
    answers = _answers(decision, exam, hearts)
    if answers is None:
        return None
    actions = np.arange(answers.max() + 2)[: max(int(answers.max()) + 1, 2)]
    step = actions[:, None] - answers[None, :]
    cost = decision.missed * np.maximum(-step, 0) + decision.false * np.maximum(step, 0)
    return Table(decision=decision, losses=cost.astype(np.float64), answers=answers)


def _arises(decision: Decision, exam: Exam) -> bool:
    visit = exam.visit
    if decision.species not in (None, exam.patient.species):
        return False
    if decision.unless_heart_failure and visit.has_heart_failure:
        return False
    for limit, noted in decision.noted.items():
        value = getattr(visit, noted)
        if value is not None and not _meets(_rule(decision)["limits"][limit], np.array(value)):
            return False
    return any(_is_there(exam, name) for name in decision.concerns)


def _is_there(exam: Exam, name: str) -> bool:
    if name == "murmur":
        return bool(exam.visit.murmur_grade)
    return is_known(exam, name)


def _answers(decision: Decision, exam: Exam, hearts: Hearts) -> NDArray[np.int64] | None:
    if decision.rule == "bands":
        return _bands(decision, hearts)
    if decision.rule == "grades":
        return _grades(decision, hearts)
    limits = _rule(decision)["limits"]
    names = decision.numbers
    if decision.rule == "any above":  # a number that nobody read raises no one's risk
        names = tuple(one for one in names if is_known(exam, _plain(one))) or names
    met = [_sign(name, limits[name], hearts) for name in names]
    seen = [one for one in met if one is not None]
    if not seen or (decision.rule == "all above" and len(seen) < len(met)):
        return None
    join = np.logical_and if decision.rule == "all above" else np.logical_or
    return np.asarray(join.reduce(seen), dtype=np.int64)


def _sign(name: str, limit: Mapping[str, Any], hearts: Hearts) -> Mask | None:
    values = number(_plain(name), hearts, limit["unit"])
    return None if values is None else _meets(limit, values)


def _plain(name: str) -> str:
    """``LAD large`` gives ``LAD``."""
    return name.partition(" ")[0]


def _meets(limit: Mapping[str, Any], values: Floats) -> Mask:
    return np.asarray(COMPARE[limit["op"]](values, limit["value"]))


def number(name: str, hearts: Hearts, unit: str) -> Floats | None:
    """Return a number of every heart in the unit of a guideline, or None."""
    if name in RATIOS:
        above, below = RATIOS[name]
        known = above in hearts and below in hearts
        return hearts[above] / hearts[below] if known else None
    if name in SPEED_OF:
        speed = hearts.get(SPEED_OF[name])
        return None if speed is None else 4.0 * speed**2
    if name == "TAPSEN":
        known = "TAPSE" in hearts and "weight" in hearts
        return 10 * hearts["TAPSE"] / hearts["weight"] ** TAPSE_EXPONENT if known else None
    values = hearts.get(name)
    if values is None or name not in quantities():
        return values
    return values * convert(1.0, quantities()[name].unit, unit)


def _bands(decision: Decision, hearts: Hearts) -> NDArray[np.int64] | None:
    band = _rule(decision)["bands"][decision.band]
    own = decision.band if decision.band in SPEED_OF else None
    found = [number(own or name, hearts, band["unit"]) for name in decision.numbers]
    values = [one for one in found if one is not None]
    if not values:
        return None
    largest = np.maximum.reduce(values)
    return _class(largest, band["edges"])


def _class(values: Floats, edges: Sequence[float]) -> NDArray[np.int64]:
    return np.asarray((values[:, None] > np.array(edges)).sum(1), dtype=np.int64)


def _grades(decision: Decision, hearts: Hearts) -> NDArray[np.int64] | None:
    """Return the class of jet and number of sites with signs, by the guideline's table."""
    rule = _rule(decision)
    band = rule["bands"][decision.numbers[0]]
    jet = hearts.get(decision.numbers[0])
    if jet is None:
        return None
    sites = np.zeros(len(jet), dtype=np.int64)
    for names in (ARTERY, VENTRICLES):
        signs = [_sign(name, rule["limits"][name], hearts) for name in names]
        seen = [one for one in signs if one is not None]
        sites += np.logical_or.reduce(seen) if seen else 0
    order = list(dict.fromkeys(one for row in rule["grades"].values() for one in row))
    by_class = np.array(
        [[order.index(one) for one in rule["grades"][label]] for label in band["labels"]]
    )
    return np.asarray(by_class[_class(jet, band["edges"]), sites], dtype=np.int64)


def _as_read(decision: Decision, exam: Exam, hearts: Hearts) -> Table | None:
    """Rely on the number as recorded, or do without: losses of the two actions."""
    name = decision.numbers[0]
    read = exam.measurement(name)
    if read is None or read.value <= 0 or name not in hearts:
        return None
    off = np.abs(np.log(read.value / hearts[name])) > tolerance(decision)
    without = np.full(len(off), decision.false)
    return Table(
        decision=decision,
        losses=np.array([decision.missed * off, without]),
        answers=off.astype(np.int64),
        read=name,
        truth=np.log(hearts[name]),
    )


def tolerance(decision: Decision) -> float:
    """Return the tolerance of a reading as a log."""
    return float(-np.log1p(-decision.tolerance))


def _rule(decision: Decision) -> Mapping[str, Any]:
    assert decision.guideline is not None
    return _guideline(decision.guideline)


@cache
def _guideline(name: str) -> Mapping[str, Any]:
    path = files("tableside") / "data" / "guidelines" / f"{name}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))
