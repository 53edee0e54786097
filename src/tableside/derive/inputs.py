"""What the formulas are fed with: one number each, with its spread and its shared scale."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from tableside.model import FLOWS, Exam, Measurement, Mode, Spread, quantities, quantity
from tableside.units import convert

WEIGHT, CUFF, ATRIUM = "weight", "systolic pressure", "right atrial pressure"
UNITS = {WEIGHT: "kg", CUFF: "mm[Hg]", ATRIUM: "mm[Hg]"}

# A scale is read to 0.1 kg and the gut is full or empty: 1.5 % (a choice of ours).
WEIGHT_SHARE = 0.015
# Cuff pressures of one dog repeat within 25 to 39 mmHg [wernick2012], so 12 to 15 as a standard
# deviation, and more for a single reading.
CUFF_SD_MMHG, ONE_READING_SD_MMHG = 13.0, 20.0
# Assumed right atrial pressures stand 5 mmHg apart [csaim]: half a step.
ATRIUM_MMHG, ATRIUM_IN_ASCITES_MMHG, ATRIUM_SD_MMHG = 5.0, 15.0, 2.5

# Which scale of a region the kinds of quantities hang on.
DIMENSION = {
    "length": "length",
    "lateral length": "length",
    "area": "length",
    "volume": "length",
    "velocity": "speed",
    "gradient": "speed",
    "time": "time",
    "rate": "time",
    "vti": "speed and time",
}

# What the trade measures on one outflow only, by the beginning of its name.
COMPANY = {
    "AV_": "aortic outflow",
    "PEP": "aortic outflow",
    "PV_": "pulmonic outflow",
    "AT": "pulmonic outflow",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One number that a formula may use; ``name`` is what an index says it came from."""

    name: str
    value: float
    spread: Spread
    scale: str | None = None
    bound: str | None = None
    files: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def unit_of_request(request: str) -> str:
    """Return the unit in which the values of a request are given."""
    name = plain(request)
    return UNITS[name] if name in UNITS else quantity(name).unit


def plain(request: str) -> str:
    """Return a request without what narrows it: ``LA @ 2-d`` gives ``LA``."""
    return request.partition(" @ ")[0]


def is_known(request: str) -> bool:
    """Return whether a request names a quantity of the catalogue or a fact of the visit."""
    return plain(request) in UNITS or plain(request) in quantities()


def candidates(exam: Exam, request: str) -> tuple[Input, ...]:
    """Return every input that answers a request, the one to rely on first."""
    if not is_known(request):
        return ()
    if request in UNITS:
        return tuple(_of_the_visit(exam, request))
    name, _, narrowed = request.partition(" @ ")
    found = ((one, _fit(exam, one, narrowed)) for one in exam.all(name))
    return tuple(_input(one, notes) for one, notes in found if notes is not None)


def pick(exam: Exam, requests: Sequence[str]) -> Mapping[str, Input] | None:
    """Pick one input for each request, from as few images as possible.

    Returns None when a request has no answer. The most reliable set whose measurements share
    the most images is taken, so that systole and diastole come from the same beats.
    """
    options = {request: candidates(exam, request) for request in requests}
    if not all(options.values()):
        return None
    lead = next((request for request in requests if request not in UNITS), requests[0])
    sets = [_gather(options, lead, one) for one in options[lead]]
    return max(sets, key=_images_shared)


def _gather(options: Mapping[str, Sequence[Input]], lead: str, one: Input) -> dict[str, Input]:
    chosen = {lead: one}
    files = set(one.files)
    for request, found in options.items():
        if request == lead:
            continue
        near = next((other for other in found if files & set(other.files)), found[0])
        chosen[request] = near
        files |= set(near.files)
    return {request: chosen[request] for request in options}


def _images_shared(chosen: Mapping[str, Input]) -> int:
    seen = [file for one in chosen.values() for file in set(one.files)]
    return len(seen) - len(set(seen))


def _input(one: Measurement, notes: tuple[str, ...]) -> Input:
    factor = convert(1.0, one.unit, quantity(one.quantity).unit)
    spread = one.spread
    return Input(
        name=one.quantity,
        value=one.value * factor,
        spread=Spread(
            trace=spread.trace * factor,
            calibration=spread.calibration * factor,
            beats=spread.beats * factor,
            acquisition=spread.acquisition * factor,
            reading=spread.reading * factor,
        ),
        scale=_scale(one),
        bound=one.bound,
        files=one.files,
        notes=notes,
    )


def _scale(one: Measurement) -> str:
    """Return the name of the scale whose error this number shares with others.

    A region has one scale for lengths, one for speeds and one for times. A mean over several
    images has none of its own; means over the same images then share theirs.
    """
    kind = quantity(one.quantity).kind
    return f"{one.scale or ','.join(one.files)} {DIMENSION[kind]}"


def _fit(exam: Exam, one: Measurement, narrowed: str) -> tuple[str, ...] | None:
    """Return what must be said when a measurement answers a request; None when it does not."""
    if narrowed in FLOWS:
        return _fit_flow(exam, one, narrowed)
    fits = {
        "": True,
        "m-mode": one.detail == "m-mode",
        "2-d": one.detail != "m-mode",
        "long axis": narrowed == "long axis" and _is_long_axis(exam, one),
    }
    return () if fits[narrowed] else None


def _is_long_axis(exam: Exam, one: Measurement) -> bool:
    images = [image for file in one.files if (image := exam.image(file))]
    return any(
        image.mode in (Mode.TWO_D, Mode.COLOUR)
        and (image.view or "").startswith("right parasternal long axis")
        for image in images
    )


def _fit_flow(exam: Exam, one: Measurement, wanted: str) -> tuple[str, ...] | None:
    flow = flow_of(exam, one)
    if flow is not None:
        return () if flow == wanted else None
    if _flow_by_company(exam, one) != wanted:
        return None
    return (f"{one.quantity}: the flow is not labelled, taken as {wanted}",)


def flow_of(exam: Exam, one: Measurement) -> str | None:
    """Return the flow that a Doppler measurement belongs to, when it is labelled."""
    if one.detail in FLOWS:
        return one.detail
    flows = {image.flow for file in one.files if (image := exam.image(file)) and image.flow}
    return flows.pop() if len(flows) == 1 else None


def _flow_by_company(exam: Exam, one: Measurement) -> str | None:
    """Return the flow that everything measured on the same images speaks for, if it is one."""
    here = {other.quantity for other in exam.measurements if set(other.files) & set(one.files)}
    flows = {flow for start, flow in COMPANY.items() for name in here if name.startswith(start)}
    return flows.pop() if len(flows) == 1 else None


def _of_the_visit(exam: Exam, request: str) -> Iterator[Input]:
    visit, weight = exam.visit, exam.patient.weight_kg
    if request == WEIGHT and weight is not None:
        spread = Spread(calibration=WEIGHT_SHARE * weight)
        yield Input(name=WEIGHT, value=weight, spread=spread, scale="body weight")
    if request == CUFF and visit.systolic_pressure_mmHg is not None:
        several = (visit.systolic_pressure_readings or 1) > 1
        sd = CUFF_SD_MMHG if several else ONE_READING_SD_MMHG
        notes = ("pressure by cuff stands for that of the left ventricle",)
        pressure = visit.systolic_pressure_mmHg
        yield Input(name=CUFF, value=pressure, spread=Spread(acquisition=sd), notes=notes)
    if request == ATRIUM:
        atrium = ATRIUM_IN_ASCITES_MMHG if visit.ascites else ATRIUM_MMHG
        notes = (
            f"right atrial pressure taken as {atrium:g} mmHg (5 normal, 10 dilated atrium, "
            "15 right-sided failure)",
        )
        spread = Spread(acquisition=ATRIUM_SD_MMHG)
        yield Input(name=ATRIUM, value=atrium, spread=spread, notes=notes)
