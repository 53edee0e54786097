r"""A mitral jet outlasts ejection; an outflow jet does not.

The time under the envelope is read from its integral: ``VTI / Vmax`` is 0.75 of the duration
of a mitral jet (it rises and falls fast and is round between) and 0.64 of that of an outflow
jet (near a half sine, 2/pi). A mitral jet lasts 60 to 100 ms longer than ejection (row 4).

Sources: timing memory, shapes a design choice; half sine computed.
"""

from math import hypot, log, pi

from tableside.credibility.evidence import files_of, numbers, of_flow
from tableside.credibility.fault import DOUBTFUL, FAULT_PRIOR, logistic
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

MITRAL_SHAPE, MITRAL_SHAPE_SD = 0.75, 0.06
OUTFLOW_SHAPE, OUTFLOW_SHAPE_SD = 2 / pi, 0.05
LONGER_MS, LONGER_SD_MS = 80.0, 20.0
BROAD = 0.7  # log; a jet that is neither


def judge(exam: Exam) -> Judgement | str:
    """Ask whether the envelope lasts as long as a mitral jet or only as long as ejection."""
    jet, integral = numbers(exam, "MR_Vmax", "MR_VTI")
    ejection = of_flow(exam, "ET", "aortic outflow")
    if ejection is None:
        return "Not recorded: ET of the aortic flow."
    mean_ms = 10 * integral.value / jet.value  # cm over m/s, in ms
    reading = hypot(integral.share, jet.share_jet)
    mitral_ms = MITRAL_SHAPE * (ejection.value + LONGER_MS)
    mitral_sd = hypot(
        MITRAL_SHAPE_SD / MITRAL_SHAPE,
        hypot(ejection.sd, LONGER_SD_MS) / (ejection.value + LONGER_MS),
        reading,
    )
    outflow_ms = OUTFLOW_SHAPE * ejection.value
    outflow_sd = hypot(OUTFLOW_SHAPE_SD / OUTFLOW_SHAPE, ejection.share, reading)
    is_mitral = _log_density(log(mean_ms / mitral_ms), mitral_sd)
    is_outflow = _log_density(log(mean_ms / outflow_ms), outflow_sd)
    is_neither = _log_density(log(mean_ms / mitral_ms), hypot(BROAD, mitral_sd))
    other = max(is_outflow, is_neither)
    wrong = logistic(log(FAULT_PRIOR / (1 - FAULT_PRIOR)) + other - is_mitral)
    lasts = mean_ms / MITRAL_SHAPE
    z = log(mean_ms / mitral_ms) / mitral_sd
    message = (
        f"The mitral jet lasts about {lasts:.0f} ms by its integral; ejection lasts "
        f"{ejection.value:.0f} ms and a mitral jet some {LONGER_MS:.0f} ms longer"
    )
    if wrong < DOUBTFUL:
        message += ": no conflict."
    else:
        message += (
            f" ({abs(z):.1f} SD {'short' if z < 0 else 'long'}). Likely, in order: an aortic "
            "or tricuspid jet was sampled; the envelope is cut; the time scale."
        )
    return Judgement(
        wrong=wrong,
        unusable=wrong,
        message=message,
        manoeuvre="jet-by-colour",
        files=files_of(jet, integral, ejection),
    )


def _log_density(off: float, sd: float) -> float:
    return -0.5 * (off / sd) ** 2 - log(sd)


LAW = Law(
    id="jet-identity",
    about=("MR_Vmax", "MR_VTI", "ET"),
    needs=("MR_Vmax", "MR_VTI", "ET"),
    judge=judge,
    sources=("hatle",),
    concerns=("MR_VTI",),
)
