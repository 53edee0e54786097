"""All indices of an examination: choose the inputs, compute, carry the doubt along."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from tableside.derive.catalogue import FORMULAS
from tableside.derive.formula import Formula, unit_of
from tableside.derive.inputs import Input, candidates, is_known, pick, unit_of_request
from tableside.derive.propagation import bound_of, propagated, slopes
from tableside.errors import OutOfRange
from tableside.model import Exam, Index
from tableside.units import convert


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A formula with the formulas that feed it, down to measurements."""

    formula: Formula
    fed_by: Mapping[str, "Route"] = field(default_factory=dict)

    @property
    def requests(self) -> tuple[str, ...]:
        """What is needed at the bottom, each once, in the order of the parameters."""
        found: dict[str, None] = {}
        for name in self.formula.takes.values():
            below = self.fed_by[name].requests if name in self.fed_by else (name,)
            found.update(dict.fromkeys(below))
        return tuple(found)

    @property
    def assumes(self) -> tuple[str, ...]:
        """What is assumed on the way, the nearest first."""
        below = (text for route in self.fed_by.values() for text in route.assumes)
        return tuple(dict.fromkeys((*self.formula.assumes, *below)))

    @property
    def sources(self) -> tuple[str, ...]:
        """The publications of every formula on the way, the nearest first."""
        below = (key for route in self.fed_by.values() for key in route.sources)
        return tuple(dict.fromkeys((*self.formula.sources, *below)))

    def value(self, at: Mapping[str, float]) -> float:
        """Compute the index from the values of its requests."""
        arguments = dict(self.formula.constants)
        for parameter, name in self.formula.takes.items():
            if name in self.fed_by:
                below = self.fed_by[name]
                raw, given = below.value(at), below.formula.unit
            else:
                raw, given = at[name], unit_of_request(name)
            arguments[parameter] = convert(raw, given, unit_of(parameter))
        return self.formula.function(**arguments)


def indices(exam: Exam) -> tuple[Index, ...]:
    """Return every index that the measurements allow, in the order of the catalogue.

    Parameters
    ----------
    exam : Exam
        Measurements, with the patient's species and weight and the visit's pressure.

    Returns
    -------
    tuple of Index
        An index whose inputs are missing, or outside the range of its formula, is absent; the
        others are not touched by that.
    """
    found: dict[str, Index] = {}
    for formula in FORMULAS:
        if formula.gives in found:
            continue
        for route in _routes(formula, exam):
            index = _index(route, exam)
            if index is not None:
                found[formula.gives] = index
                break
    return tuple(found.values())


def _routes(formula: Formula, exam: Exam) -> Iterator[Route]:
    """Yield each way to feed a formula with what the examination holds."""
    if formula.species not in (None, exam.patient.species):
        return
    ways: list[dict[str, Route]] = [{}]
    for name in formula.takes.values():
        if is_known(name):
            if not candidates(exam, name):
                return
            continue
        below = [one for line in FORMULAS if line.gives == name for one in _routes(line, exam)]
        ways = [{**way, name: one} for way in ways for one in below]
    for way in ways:
        yield Route(formula=formula, fed_by=way)


def _index(route: Route, exam: Exam) -> Index | None:
    inputs = pick(exam, route.requests)
    if inputs is None:
        return None
    try:
        value = route.value({request: one.value for request, one in inputs.items()})
    except OutOfRange:
        return None
    slope = slopes(route.value, inputs)
    spread = propagated(slope, inputs)
    bound, about_bound = bound_of(slope, inputs)
    formula = route.formula
    return Index(
        name=formula.gives,
        value=value,
        sd=spread.within,
        sd_total=spread.total,
        unit=formula.unit,
        formula=formula.name,
        inputs=tuple(dict.fromkeys(one.name for one in inputs.values())),
        sources=route.sources,
        bound=bound,
        assumptions=(*route.assumes, *_said(formula, inputs), *about_bound),
    )


def _said(formula: Formula, inputs: Mapping[str, Input]) -> Iterator[str]:
    """Yield what the choice of inputs makes necessary to say."""
    for one in inputs.values():
        yield from one.notes
    measured = [one for one in inputs.values() if one.files]
    if formula.together and len(measured) > 1:
        shared = set.intersection(*(set(one.files) for one in measured))
        if not shared:
            names = " and ".join(one.name for one in measured)
            yield f"{names} come from different images"
