"""From features to probabilities: what each label is expected to show, read from a data file.

Every feature of every label is a normal distribution or a share, mixed with the chance that the
program misreads it. Evidence is the logarithm of that density over a flat one. "Something else"
is flat everywhere but for a few known strangers: a picture that resembles nothing is something
else. Features repeat each other, therefore their sum is tempered.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from math import exp, fsum, isfinite, log, pi, sqrt
from typing import Any

from tableside.errors import DataError
from tableside.model import FLOWS, MMODE_LEVELS, SOMETHING_ELSE, VIEWS

Expected = tuple[float, float] | float

# the excursion of an annulus is not suggested: one line that moves could be many things
SUGGESTED_LEVELS = tuple(level for level in MMODE_LEVELS if not level.endswith("annulus"))
LABELS = {"mmode": SUGGESTED_LEVELS, "flow": FLOWS}
FILE = "suggest.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """The range of a feature, whether its logarithm is normal, and how evidence names it."""

    low: float
    high: float
    words: str
    is_log: bool = False

    def say(self, value: float) -> str:
        """Return the feature in words; ``value`` is on the scale of the readings."""
        shown = exp(value) if self.is_log else value
        return self.words.format(
            value=shown, percent=f"{100 * shown:.0f} %", ms=f"{1000 * shown:.0f} ms"
        )

    @property
    def width(self) -> float:
        """Length of the range on the scale of the readings."""
        return log(self.high / self.low) if self.is_log else self.high - self.low


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One way a label may look."""

    label: str
    probability: float
    expected: Mapping[str, Expected]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """All that is expected of M-modes, or of spectra."""

    labels: tuple[str, ...]
    features: Mapping[str, Feature]
    shapes: tuple[Shape, ...]
    views: Mapping[str, Mapping[str, float]]  # view -> label -> weight
    temper: float
    share_else: float
    misread: float
    doubt: float
    certainty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """Probabilities of the labels, and the evidence of each feature for the likeliest one."""

    probabilities: Mapping[str, float]
    evidence: tuple[tuple[str, float], ...]


def weigh(kind: Kind, features: Mapping[str, float], view: str | None) -> Weighed:
    """Return what the features make of every label.

    Parameters
    ----------
    kind : Kind
    features : Mapping
        As the imaging steps give them; what is missing says nothing.
    view : str or None
        The view label of the image: how usual each flow or level is in it.

    Returns
    -------
    Weighed
        Probabilities add to 1 over the labels and "something else"; evidence in falling order.
    """
    known = {
        name: value
        for name, value in features.items()
        if name in kind.features and isfinite(value)
    }
    weights = kind.views.get(view or "", {})
    alone = (1 - kind.share_else) / len(kind.labels)
    scores = {
        label: log(alone * weights.get(label, 1.0)) + _log_sum(_fits(kind, label, known))
        for label in kind.labels
    }
    of_others = _fits(kind, SOMETHING_ELSE, known)
    flat = 1 - fsum(one.probability for one in kind.shapes if one.label == SOMETHING_ELSE)
    scores[SOMETHING_ELSE] = log(kind.share_else) + _log_sum([log(flat), *of_others])
    probabilities = _with_doubt(scores, kind)
    best = max(kind.labels, key=lambda label: probabilities[label])
    return Weighed(probabilities=probabilities, evidence=_evidence(kind, best, known))


def _fits(kind: Kind, label: str, known: Mapping[str, float]) -> list[float]:
    """Return the evidence for each shape of a label, with the shape's own probability."""
    return [
        log(one.probability) + kind.temper * fsum(_ratios(kind, one, known).values())
        for one in kind.shapes
        if one.label == label
    ]


def _ratios(kind: Kind, shape: Shape, known: Mapping[str, float]) -> dict[str, float]:
    """Return the evidence of each feature for a shape against a flat density."""
    return {
        name: log(
            (1 - kind.misread) * _density(shape.expected[name], value, kind.features[name])
            + kind.misread
        )
        for name, value in known.items()
        if name in shape.expected
    }


def _density(expected: Expected, value: float, feature: Feature) -> float:
    """Return the expected density over the flat one."""
    if isinstance(expected, float):
        return 2 * (expected if value > 0.5 else 1 - expected)
    mean, sd = expected
    z = (value - mean) / sd
    return feature.width * exp(-0.5 * min(z * z, 1000.0)) / (sd * sqrt(2 * pi))


def _log_sum(values: list[float]) -> float:
    top = max(values)
    return top + log(fsum(exp(value - top) for value in values))


def _with_doubt(scores: Mapping[str, float], kind: Kind) -> Mapping[str, float]:
    total = _log_sum(list(scores.values()))
    each = kind.doubt / len(scores)
    found = {name: each + (1 - kind.doubt) * exp(one - total) for name, one in scores.items()}
    return {name: found[name] for name in (*kind.labels, SOMETHING_ELSE)}


def _evidence(
    kind: Kind, label: str, known: Mapping[str, float]
) -> tuple[tuple[str, float], ...]:
    """Return the evidence of the shape of this label that fits best."""
    fits = [_ratios(kind, one, known) for one in kind.shapes if one.label == label]
    best = max(fits, key=lambda one: fsum(one.values()))
    return tuple(sorted(best.items(), key=lambda item: -item[1]))


@cache
def load_kind(name: str) -> Kind:
    """Read one half of ``data/suggest.toml``; refuse one that breaks the schema."""
    path = files("tableside") / "data" / FILE
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    part, labels = raw[name], LABELS[name]
    features = {
        key: Feature(
            low=line["low"],
            high=line["high"],
            words=line["words"],
            is_log=line.get("log", False),
        )
        for key, line in part["features"].items()
    }
    shapes = tuple(_shape(line, labels, features) for line in part["shapes"])
    _require_whole(labels, shapes)
    return Kind(
        labels=labels,
        features=features,
        shapes=shapes,
        views=_views(raw["views"], name, labels),
        temper=part["temper"],
        share_else=part["else"],
        misread=raw["misread"],
        doubt=raw["doubt"],
        certainty=raw["certainty"],
    )


def _shape(
    line: Mapping[str, Any], labels: tuple[str, ...], features: Mapping[str, Feature]
) -> Shape:
    expected = {key: line[key] for key in line if key not in ("label", "probability")}
    unknown = expected.keys() - features.keys()
    if line["label"] not in (*labels, SOMETHING_ELSE) or unknown:
        raise DataError(
            f"{FILE}: unknown label {line['label']!r} or features {sorted(unknown)}"
        )
    return Shape(
        label=line["label"],
        probability=line["probability"],
        expected={key: _expected(one, features[key]) for key, one in expected.items()},
    )


def _expected(given: Any, feature: Feature) -> Expected:
    """Return mean and SD on the scale of the readings, or the share of a yes."""
    if isinstance(given, float):
        return given
    usual, spread = given
    return (log(usual) if feature.is_log else float(usual)), float(spread)


def _require_whole(labels: tuple[str, ...], shapes: tuple[Shape, ...]) -> None:
    for label in labels:
        total = fsum(one.probability for one in shapes if one.label == label)
        if abs(total - 1) > 1e-9:
            raise DataError(f"{FILE}: the shapes of {label!r} add to {total:g}, not to 1")
    others = fsum(one.probability for one in shapes if one.label == SOMETHING_ELSE)
    if not others < 1:
        raise DataError(f"{FILE}: the shapes of something else leave nothing for the unknown")


def _views(
    raw: Mapping[str, Any], name: str, labels: tuple[str, ...]
) -> Mapping[str, Mapping[str, float]]:
    found = {}
    for view, line in raw[name].items():
        listed = [*line["usual"], *line["possible"]]
        if view not in VIEWS or not set(listed) <= set(labels):
            raise DataError(f"{FILE}: unknown view {view!r}, or a label in it")
        weights = dict.fromkeys(labels, raw["rare"])
        weights |= dict.fromkeys(line["possible"], raw["possible"])
        found[view] = weights | dict.fromkeys(line["usual"], 1.0)
    return found
