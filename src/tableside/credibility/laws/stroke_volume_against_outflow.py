"""The ventricle cannot eject more than it shrinks by; without regurgitation the two agree.

Rows 8 and 9 of the rule table: volume by the ventricle over volume by the outflow is 0.75 to
1.6 without mitral regurgitation, and has no upper limit with it. A regurgitant volume below
-0.9 mL/kg is as good as impossible.

Sources: stroke volumes at several sites in 90 healthy dogs (svsites, docs/checks.md);
ratio a design choice; Doppler 11 to 14 %, ventricle 12 to 15 % computed.
"""

from math import hypot

from tableside.credibility.evidence import Seen, files_of, seen
from tableside.credibility.fault import probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

LOW, HIGH = 0.75, 1.6
MODEL_SPREAD = 0.12  # a volume from lengths; share; design
FAULT_SHARE = 0.8  # of the outflow volume


def judge(exam: Exam) -> Judgement | str:
    """Compare the ventricle's stroke volume with the outflow's."""
    outflow, pair = seen(exam, "SV"), _volumes(exam)
    if outflow is None:
        return "Not recorded: SV of the outflow (its diameter and VTI)."
    if pair is None:
        return "Not recorded: the volume of the left ventricle in diastole and systole."
    full, empty = pair
    ventricle = full.value - empty.value
    if ventricle <= 0 or outflow.value <= 0:
        return "The ventricle does not shrink by these volumes; see systole-below-diastole."
    has_leak = seen(exam, "MR_Vmax") is not None
    ratio = ventricle / outflow.value
    off, bound = _beyond(ratio, has_leak=has_leak)
    sd = hypot(full.sd_same, empty.sd_same, MODEL_SPREAD * ventricle, bound * outflow.sd)
    wrong = probability_wrong(off * outflow.value, sd, FAULT_SHARE * outflow.value)
    allowed = f"at least {LOW:g}" if has_leak else f"{LOW:g} to {HIGH:g}"
    message = (
        f"Stroke volume {ventricle:.0f} mL by the ventricle ({full.name}) and "
        f"{outflow.value:.0f} mL by the outflow: ratio {ratio:.2f}, allowed {allowed}"
    )
    if off == 0:
        message += "."
    else:
        message += (
            f"; {abs(off) * outflow.value:.0f} mL, {abs(off) * outflow.value / sd:.1f} SD "
            "outside. Likely, in order: outflow diameter (its error counts twice); ventricle "
            "foreshortened; gate not at the level of the diameter."
        )
    return Judgement(
        wrong=wrong,
        unusable=0.6 * wrong,
        message=message,
        manoeuvre="outflow-diameter",
        about=("SV", full.name, empty.name),
        files=files_of(outflow, full, empty),
    )


def _beyond(ratio: float, *, has_leak: bool) -> tuple[float, float]:
    """Return how far the ratio is outside, and the bound that it is compared with."""
    if ratio < LOW:
        return ratio - LOW, LOW
    if ratio > HIGH and not has_leak:
        return ratio - HIGH, HIGH
    return 0.0, min(ratio, HIGH)


def _volumes(exam: Exam) -> tuple[Seen, Seen] | None:
    for names in (("EDV", "ESV"), ("EDV_Teichholz", "ESV_Teichholz")):
        full, empty = (seen(exam, name) for name in names)
        if full is not None and empty is not None:
            return full, empty
    return None


LAW = Law(
    id="stroke-volume-against-outflow",
    about=("SV", "EDV", "ESV"),
    needs=(),
    judge=judge,
    sources=("svsites", "quinones2002"),
)
