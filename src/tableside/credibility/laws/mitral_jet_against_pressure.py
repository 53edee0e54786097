r"""A mitral jet is driven by the systolic pressure.

.. math:: v = \sqrt{(SBP + \Delta P_{outflow} - LAP) / 4}

Rows 1 and 2 of the rule table: with an outflow obstruction its gradient is added, since the
ventricle then works above the cuff. Peak to peak it is about 0.7 of the peak Doppler
gradient (memory; a design spread of 0.2 of it).

Sources: [hatle], [tou2006], [hanzlicek2016]; expected jets computed, docs/checks.md.
"""

from math import hypot, log

from tableside.credibility.evidence import Seen, numbers, seen
from tableside.credibility.fault import DOUBTFUL, FAILS
from tableside.credibility.jet import (
    LAW_SPREAD,
    JetBelief,
    JetEvidence,
    angle_needed_deg,
    expected_m_s,
    weigh_jet,
)
from tableside.credibility.law import Judgement, Law
from tableside.credibility.pressure import (
    Pressure,
    cuff_sd_mmHg,
    left_atrial,
    systolic,
    systolic_before_cuff,
)
from tableside.model import Z90, Exam, Verdict

OBSTRUCTED_M_S = 2.4  # an aortic flow above this is taken for an obstruction [jenni2009]
PEAK_TO_PEAK, PEAK_TO_PEAK_SD = 0.7, 0.2
SHOCK_MMHG = 60.0


def judge(exam: Exam) -> Judgement | str:
    """Compare the mitral jet with the one that the cuff pressure drives."""
    (jet,) = numbers(exam, "MR_Vmax")
    cuff, now = exam.visit.systolic_pressure_mmHg, systolic(exam)
    if cuff is None or now is None or not 30 <= cuff <= 350:
        return "The systolic pressure is outside 30 to 350 mmHg; measure it again."
    atrium, added = left_atrial(exam), _obstruction(exam)
    belief = weigh_jet(
        JetEvidence(
            jet_m_s=jet.value,
            jet_share=jet.share_jet,
            is_lower_bound=jet.is_lower_bound,
            before=systolic_before_cuff(exam),
            behind=atrium,
            cuff_mmHg=cuff,
            cuff_sd_mmHg=cuff_sd_mmHg(exam.visit.systolic_pressure_readings),
            added_mmHg=added.centre,
            added_sd_mmHg=added.spread,
        )
    )
    either = min(1.0, belief.unusable + belief.cuff_wrong)
    return Judgement(
        wrong=either,
        unusable=belief.unusable,
        verdict=_verdict(belief, either),
        message=_message(exam, jet, now, atrium),
        manoeuvre="mitral-jet" if belief.unusable >= FAILS else "cuff-series",
        files=jet.files,
    )


def _verdict(belief: JetBelief, either: float) -> Verdict:
    if belief.unusable >= FAILS:
        return Verdict.FAILS
    return Verdict.DOUBTFUL if either >= DOUBTFUL else Verdict.HOLDS


def _obstruction(exam: Exam) -> Pressure:
    outflow = seen(exam, "AV_Vmax")
    if outflow is None or outflow.value <= OBSTRUCTED_M_S:
        return Pressure(0.0, 0.0)
    peak = 4 * outflow.value**2
    return Pressure(PEAK_TO_PEAK * peak, PEAK_TO_PEAK_SD * peak)


def _message(exam: Exam, jet: Seen, now: Pressure, atrium: Pressure) -> str:
    added = _obstruction(exam)
    drive = now.centre + added.centre - atrium.centre
    drive_sd = hypot(now.spread, added.spread, atrium.centre * atrium.spread)
    middle = expected_m_s(drive)
    low = expected_m_s(drive - Z90 * drive_sd)
    high = expected_m_s(drive + Z90 * drive_sd)
    spread = hypot(0.5 * drive_sd / max(drive, 4.0), LAW_SPREAD, jet.share_jet)
    z = log(jet.value / middle) / spread
    at_least = "at least " if jet.is_lower_bound else ""
    start = (
        f"Mitral jet {at_least}{jet.value:.1f} m/s; at a systolic pressure of "
        f"{exam.visit.systolic_pressure_mmHg:.0f} mmHg {low:.1f} to {high:.1f} m/s is expected"
    )
    if low <= jet.value <= high:
        return f"{start}: they agree."
    if jet.value > middle:
        return (
            f"{start}: {z:.1f} SD too fast. Likely, in order: the cuff reads low; an outflow "
            "obstruction; gain, mirror or scale of the spectrum."
        )
    return f"{start}: {-z:.1f} SD too slow. {_slow(jet.value, middle, atrium)}"


def _slow(jet_m_s: float, middle: float, atrium: Pressure) -> str:
    angle = angle_needed_deg(jet_m_s, middle) or 0.0
    pressure = 4 * jet_m_s**2 + atrium.centre
    fits = (
        f"It would need a beam angle of {angle:.0f} degrees, or fits a systolic pressure near "
        f"{pressure:.0f} mmHg."
    )
    if pressure < SHOCK_MMHG or jet_m_s / middle < 0.75:
        causes = "incomplete envelope or low gain; beam off the jet; another jet; the scale"
    else:
        causes = "the pressure is now lower than the cuff said; beam off the jet; low gain"
    return f"{fits} Likely, in order: {causes}."


LAW = Law(
    id="mitral-jet-against-pressure",
    about=("MR_Vmax", "systolic pressure"),
    needs=("systolic pressure",),
    judge=judge,
    sources=("hatle", "tou2006", "hanzlicek2016", "wernick2012"),
)
