r"""The right ventricle seldom works above the systemic pressure.

.. math:: RVSP = 4 v^2 + RAP \le SBP

A tricuspid jet that would put the right ventricle above the cuff is more often the mitral
jet seen across the septum (rows 3 and 7 of the rule table). The estimate scatters by 10 to
12 mmHg and 10 % against a catheter.

Sources: [hatle], [soydan2015], right atrial pressure [csaim].
"""

from math import hypot

from tableside.credibility.evidence import numbers
from tableside.credibility.fault import probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.credibility.pressure import RAP_SD_MMHG, right_atrial_mmHg, systolic
from tableside.model import Exam

SCATTER_MMHG, SCATTER_SHARE = 11.0, 0.10  # soydan2015
FAULT_MMHG = 60.0
BLAME = 0.8  # share of such conflicts where the jet, not the cuff, is wrong; design


def judge(exam: Exam) -> Judgement | str:
    """Compare the right ventricular pressure of the tricuspid jet with the cuff."""
    (jet,) = numbers(exam, "TR_Vmax")
    now = systolic(exam)
    if now is None:
        return "Not recorded: a systolic pressure."
    pressure = 4 * jet.value**2 + right_atrial_mmHg(exam)
    scatter = hypot(
        SCATTER_MMHG, SCATTER_SHARE * pressure, 8 * jet.value * jet.sd_jet, RAP_SD_MMHG
    )
    over = pressure - now.centre
    sd = hypot(scatter, now.spread)
    wrong = probability_wrong(max(0.0, over), sd, FAULT_MMHG)
    message = (
        f"Tricuspid jet {jet.value:.2f} m/s puts the right ventricle at {pressure:.0f} mmHg; "
        f"the systolic pressure is {exam.visit.systolic_pressure_mmHg:.0f} mmHg"
    )
    if over > 0:
        message += (
            f": {over:.0f} mmHg ({over / sd:.1f} SD) above it. Likely, in order: the mitral "
            "jet seen across the septum; the cuff reads low; pressures truly above systemic."
        )
    else:
        message += ": possible."
    return Judgement(
        wrong=wrong,
        unusable=BLAME * wrong,
        message=message,
        manoeuvre="tricuspid-jet",
        files=jet.files,
    )


LAW = Law(
    id="tricuspid-jet-against-pressure",
    about=("TR_Vmax", "systolic pressure"),
    needs=("systolic pressure",),
    judge=judge,
    sources=("hatle", "soydan2015", "csaim"),
)
