"""A flow that reaches the end of its scale is cut or folded over, and only a lower bound.

Row 25 of the rule table: above 0.95 of the scale. Two explanations compete: the peak lies
inside the scale anywhere, or it lies beyond and the trace stopped at the edge.

Sources: common practice; the scale of a pulsed spectrum ends at the Nyquist velocity,
c PRF / (4 f0), moved by the baseline.
"""

from math import exp, hypot, log, pi, sqrt

from tableside.credibility.evidence import Seen, of_measurement
from tableside.credibility.fault import DOUBTFUL, logistic
from tableside.credibility.law import Judgement, Law
from tableside.errors import NotMeasurable
from tableside.model import Exam, Measurement, RegionKind, quantities

CLIPPED_PRIOR = 0.08
STOPS_AT, STOPS_SD = 0.98, 0.02  # share of the scale where a cut trace ends; design
VELOCITIES = tuple(one.id for one in quantities().values() if one.kind == "velocity")


def judge(exam: Exam) -> Judgement | None:
    """Compare each velocity with the end of the scale of its spectrum; report the worst."""
    found = []
    for one in exam.measurements:
        if one.quantity in VELOCITIES and (limit := scale_end_m_s(exam, one)) is not None:
            number = of_measurement(one)
            found.append((_clipped(number, limit), one.quantity, number, limit))
    if not found:
        return None
    wrong, _, worst, limit = max(found, key=lambda each: (each[0], each[1], each[2].files))
    message = (
        f"{worst.name} {worst.value:.2f} m/s on a scale that ends at {limit:.2f} m/s "
        f"({100 * worst.value / limit:.0f} %)"
    )
    if wrong >= DOUBTFUL:
        message += (
            ": the top is probably cut or folded over, and the true peak higher. Likely, in "
            "order: baseline too close; scale too small; pulsed wave beyond its limit."
        )
    else:
        message += ": room enough."
    others = dict.fromkeys(each[1] for each in sorted(found, key=lambda e: (-e[0], e[1])))
    about = (worst.name, *(name for name in others if name != worst.name))
    return Judgement(
        wrong=wrong,
        unusable=wrong,
        message=message,
        manoeuvre="velocity-scale",
        about=about if wrong < DOUBTFUL else _doubted(found, about),
        files=worst.files,
    )


def _doubted(
    found: list[tuple[float, str, Seen, float]], about: tuple[str, ...]
) -> tuple[str, ...]:
    worst_of: dict[str, float] = {}
    for wrong, name, _, _ in found:
        worst_of[name] = max(wrong, worst_of.get(name, 0.0))
    return tuple(name for name in about if worst_of[name] >= DOUBTFUL)


def _clipped(one: Seen, limit_m_s: float) -> float:
    share = one.value / limit_m_s
    if share > 1 + 3 * STOPS_SD:
        return 0.5  # beyond the scale: unwrapped by the reader, or the wrong scale
    sd = hypot(STOPS_SD, one.sd_same / limit_m_s / 3)
    z = (share - STOPS_AT) / sd
    clipped = exp(-0.5 * z**2) / (sd * sqrt(2 * pi))
    odds = log(CLIPPED_PRIOR / (1 - CLIPPED_PRIOR)) + log(max(clipped, 1e-300))
    return logistic(odds)


def scale_end_m_s(exam: Exam, one: Measurement) -> float | None:
    """Return the speed at the end of the scale on the side of the flow, or None."""
    beats = [beat for beat in one.beats if beat.used]
    image = exam.image(beats[0].file) if beats else None
    region = image.region(RegionKind.SPECTRAL) if image is not None else None
    if region is None:
        return None
    try:
        ends = [region.velocity_m_s(row) for row in (region.box[1], region.box[3])]
        if beats[0].points:
            peak = max((region.velocity_m_s(y) for _, y in beats[0].points), key=abs)
            ends = [end for end in ends if end * peak > 0] or ends
    except NotMeasurable:
        return None
    limit = max(abs(end) for end in ends)
    return limit if limit > 0 else None


LAW = Law(
    id="nyquist",
    about=("MR_Vmax",),
    needs=(),
    judge=judge,
    sources=(),
    concerns=VELOCITIES,
)
