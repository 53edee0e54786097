"""From an exam to observations: what each reading says of which quantity, and how it errs."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import hypot, isfinite, log

from tableside.credibility.exam_model.settings import Constants
from tableside.model import Exam, Measurement

LENGTHS = ("length", "diastole", "systole", "size")
PHASE_PAIRS = (("LVIDd", "LVIDs"),)
CUFF, WEIGHT = "systolic pressure", "weight"


@dataclass(frozen=True, slots=True)
class Kind:
    """How one quantity is looked at: its name in the heart, its family of faults, its laws."""

    truth: str
    family: str
    laws: tuple[str, ...] = ()
    has_angle: bool = False
    power: float = 1.0  # the reading goes with this power of a length or speed


def _jet(name: str, *laws: str, family: str = "jet", power: float = 1.0) -> Kind:
    return Kind(name, family, ("broadening.law_sd", *laws), True, power)


KINDS = {
    "IVSd": Kind("IVSd", "diastole"),
    "IVSs": Kind("IVSs", "systole", ("wall.law_sd",)),
    "LVIDd": Kind("LVIDd", "diastole"),
    "LVIDs": Kind("LVIDs", "systole"),
    "LVPWd": Kind("LVPWd", "diastole"),
    "LVPWs": Kind("LVPWs", "systole", ("wall.law_sd",)),
    "EPSS": Kind("EPSS", "length"),
    "Ao": Kind("Ao", "length"),
    "LA": Kind("LA", "length"),
    "Ao @ m-mode": Kind("Ao m-mode", "length", ("Ao_m-mode.law_sd",)),
    "LA @ m-mode": Kind("LA m-mode", "length", ("LA_m-mode.law_sd",)),
    "LAD": Kind("LAD", "length", ("LAD.law_sd",)),
    "LVOTd": Kind("LVOTd", "length", ("LVOTd.law_sd",)),
    "AoAnn": Kind("AoAnn", "length"),
    "PAd": Kind("PAd", "length"),
    "TAPSE": Kind("TAPSE", "length"),
    "MAPSE": Kind("MAPSE", "length"),
    "LVLd": Kind("LVLd", "diastole"),
    "LVLs": Kind("LVLs", "systole"),
    "E": Kind("E", "velocity"),
    "A": Kind("A", "velocity"),
    "E'": Kind("E'", "velocity"),
    "A'": Kind("A'", "velocity"),
    "S'": Kind("S'", "velocity"),
    "MR_Vmax": _jet("MR_Vmax", "Bernoulli.law_sd", family="mitral_jet"),
    "TR_Vmax": _jet("TR_Vmax", "Bernoulli.law_sd", "TR_Vmax.law_sd"),
    "PR_Vmax": _jet("PR_Vmax", "PR_Vmax.law_sd"),
    "PR_Vend": _jet("PR_Vend", "PR_Vend.law_sd"),
    "AR_Vmax": _jet("AR_Vmax", "AR_Vmax.law_sd"),
    "AV_Vmax": _jet("AV_Vmax", "AV_Vmax.law_sd"),
    "PV_Vmax": _jet("PV_Vmax", "PV_Vmax.law_sd"),
    "AV_VTI": _jet("AV_VTI", "AV_VTI.law_sd"),
    "PV_VTI": _jet("PV_VTI", "PV_VTI.law_sd", "PV_Vmax.law_sd"),
    "MR_VTI": _jet("MR_VTI", "MR_VTI.law_sd"),
    "AV_MG": _jet("AV_MG", "gradient.law_sd", "AV_Vmax.law_sd", power=2.0),
    "PV_MG": _jet("PV_MG", "gradient.law_sd", "PV_Vmax.law_sd", power=2.0),
    "DT": Kind("DT", "time"),
    "IVRT": Kind("IVRT", "time"),
    "ET": Kind("ET", "time"),
    "PEP": Kind("PEP", "time"),
    "AT": Kind("AT", "time"),
    "HR": Kind("HR", "time"),
    "LVAd": Kind("LVAd", "size", ("area.law_sd",), power=2.0),
    "LVAs": Kind("LVAs", "size", ("area.law_sd",), power=2.0),
    "LAA": Kind("LAA", "size", ("LAA.law_sd",), power=2.0),
    "EDV": Kind("EDV", "size", ("discs.law_sd",), power=3.0),
    "ESV": Kind("ESV", "size", ("discs.law_sd",), power=3.0),
    "LAVmax": Kind("LAVmax", "size", ("LAV.law_sd",), power=3.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One reading as the model sees it.

    ``value`` and ``sd`` are logs divided by the power of the kind; for the cuff, mmHg.
    ``shared`` is the part of the error common to the readings of its ``sweep``.
    ``scale`` names what a slip of the scale would move together.
    """

    name: str
    quantity: str
    kind: Kind
    given: float
    value: float
    sd: float
    shared: float = 0.0
    sweep: str = ""
    scale: str = ""
    is_bound: bool = False
    is_linear: bool = False
    files: tuple[str, ...] = ()
    unit: str = ""
    alone: bool = True

    @property
    def dimension(self) -> str:
        """What a slip of its scale would be a slip of: length, time or speed."""
        if self.kind.family in LENGTHS:
            return "length"
        return "time" if self.kind.family == "time" else "speed"


def observe(exam: Exam, p: Constants) -> tuple[tuple[Observation, ...], tuple[str, ...]]:
    """Return the observations of an exam, and a sentence for each reading that is left out."""
    found: list[Observation] = []
    notes: list[str] = []
    for one in _chosen(exam):
        kind = _kind(exam, one)
        if kind is None:
            continue
        if not (isfinite(one.value) and one.value > 0 and not _is_unknown(one)):
            notes.append(
                f"{one.quantity} = {one.value:g} {one.unit} says nothing of the heart and is "
                "left out of the joint model; measure it again or delete it."
            )
            continue
        found.append(_of_measurement(one, kind, p))
    found += _noted(exam, p, notes)
    return _grouped(_named(found), p), tuple(notes)


def cuff_sd_mmHg(readings: int | None, p: Constants) -> float:
    """Return the sd of the mean of a cuff series."""
    if readings is None or readings < 1:
        return p["cuff.unknown_mmHg"]
    return hypot(p["cuff.systematic_mmHg"], p["cuff.reading_mmHg"] / readings**0.5)


def _is_unknown(one: Measurement) -> bool:
    return one.sd_total != one.sd_total  # NaN


def _chosen(exam: Exam) -> Iterator[Measurement]:
    """Yield one measurement a quantity, way and image set: the one to rely on."""
    seen = set()
    for quantity in dict.fromkeys(one.quantity for one in exam.measurements):
        for one in exam.all(quantity):
            key = (quantity, one.detail, one.files)
            if key not in seen:
                seen.add(key)
                yield one


def _kind(exam: Exam, one: Measurement) -> Kind | None:
    if one.quantity in ("LA", "Ao") and one.detail == "m-mode":
        return KINDS[f"{one.quantity} @ m-mode"]
    flows = {image.flow for file in one.files if (image := exam.image(file))}
    if one.quantity == "AT" and "aortic outflow" in {*flows, one.detail}:
        return None  # the model holds the acceleration of the pulmonic flow alone
    return KINDS.get(one.quantity)


def _of_measurement(one: Measurement, kind: Kind, p: Constants) -> Observation:
    spread, value, power = one.spread, one.value, kind.power
    acquisition = 0.0 if kind.has_angle else spread.acquisition  # the angle is reckoned apart
    cal, acq = (_share(part, value, power) for part in (spread.calibration, acquisition))
    shared = hypot(cal, acq * p["sweep.shared"] ** 0.5) if kind.family in LENGTHS else cal
    total = hypot(_share(hypot(spread.sweep, acquisition, spread.reading), value, power), 0.0)
    own = hypot(*(p[law] for law in kind.laws)) / power
    files = one.files
    return Observation(
        name=one.quantity,
        quantity=one.quantity,
        kind=kind,
        given=value,
        value=log(value) / power,
        sd=min(max(hypot(total, own), p["error.least"]), p["error.most"]),
        shared=min(shared, p["error.most"] / 2),
        sweep=one.scale or ",".join(files),
        files=files,
        unit=one.unit,
        is_bound=one.bound == "lower",
    )


def _share(sd: float, value: float, power: float) -> float:
    return min(abs(sd) / value / power, 1e6)


def _noted(exam: Exam, p: Constants, notes: list[str]) -> Iterator[Observation]:
    weight, cuff = exam.patient.weight_kg, exam.visit.systolic_pressure_mmHg
    if weight is not None and isfinite(weight) and weight > 0:
        yield Observation(
            name=WEIGHT,
            quantity=WEIGHT,
            kind=Kind("weight", "weight"),
            given=weight,
            value=log(weight),
            sd=p["weight.error"],
            unit="kg",
        )
    elif exam.measurements:
        notes.append("No body weight: sizes are judged against each other alone.")
    if cuff is not None and isfinite(cuff) and cuff > 0:
        yield Observation(
            name=CUFF,
            quantity=CUFF,
            kind=Kind("SBP", "cuff"),
            given=cuff,
            value=cuff,
            sd=cuff_sd_mmHg(exam.visit.systolic_pressure_readings, p),
            unit="mm[Hg]",
            is_linear=True,
        )


def _named(found: Sequence[Observation]) -> list[Observation]:
    """Give each its quantity as a name; the second of a quantity carries its way and image."""
    taken: dict[str, int] = {}
    named = []
    for one in found:
        taken[one.quantity] = taken.get(one.quantity, 0) + 1
        nth = taken[one.quantity]
        named.append(one if nth == 1 else replace(one, name=f"{one.quantity} ({nth})"))
    return named


def _grouped(found: Sequence[Observation], p: Constants) -> tuple[Observation, ...]:
    """Settle what is shared: an error shared with nobody is an error of one's own."""
    count: dict[tuple[str, str], int] = {}
    for one in found:
        count[_key(one)] = count.get(_key(one), 0) + 1
    return tuple(_settled(one, count[_key(one)] > 1 and bool(one.sweep), p) for one in found)


def _settled(one: Observation, is_shared: bool, p: Constants) -> Observation:
    if not is_shared:
        return replace(one, shared=0.0, sweep="", scale="")
    own = max(one.sd**2 - one.shared**2, p["error.least"] ** 2) ** 0.5
    return replace(one, sd=own, scale="|".join(_key(one)), alone=False)


def _key(one: Observation) -> tuple[str, str]:
    return one.sweep, one.dimension
