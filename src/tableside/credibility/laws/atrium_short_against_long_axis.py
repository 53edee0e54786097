"""The left atrium in short axis and in long axis belong to one atrium.

Row 16 of the rule table. With the aortic annulus in long axis the two ratios to the aorta are
compared (short over long 0.6 to 0.85); without it the two lengths, whose ratio in healthy dogs
is 0.83 (LA:Ao 1.3 x Ao 0.78 BW^0.341 over LAD 13.1 mm BW^0.309, computed).

Sources: long-axis ratio 1.8 to 2.4 [strohm2018], short-axis up to 1.6 [hansson2002];
[cornell2004], [marchesotti2019]; 25 % tolerance a design choice.
"""

from math import hypot, log

from tableside.credibility.evidence import Seen, files_of, ratio_share, seen
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

RATIO_CENTRE, RATIO_SPREAD = log(0.71), 0.10  # 0.6 to 0.85
LENGTH_CENTRE, LENGTH_SPREAD = log(0.83), 0.10
FAULT_SPREAD = 0.4


def judge(exam: Exam) -> Judgement | str:
    """Compare the atrium of the two views."""
    short_axis = seen(exam, "LA:Ao")
    long_axis, annulus = seen(exam, "LAD"), seen(exam, "AoAnn")
    measured = exam.measurement("LA")
    length = None if measured is None or measured.detail == "m-mode" else seen(exam, "LA")
    if long_axis is None:
        return "Not recorded: LAD (the long-axis diameter is the tie-breaker for LA:Ao)."
    if short_axis is not None and annulus is not None:
        off, sd, text = _by_ratio(short_axis, long_axis, annulus)
    elif length is not None:
        off = log(length.value / long_axis.value) - LENGTH_CENTRE
        sd = hypot(LENGTH_SPREAD, ratio_share(length, long_axis))
        text = (
            f"Left atrium {length.value:.2f} cm in short axis, {long_axis.value:.2f} cm in long"
        )
    else:
        return "Not recorded: LA in short axis on a 2-D image."
    wrong = probability_wrong(off, sd, FAULT_SPREAD)
    if wrong >= DOUBTFUL:
        side = "large" if off > 0 else "small"
        text += (
            f": the short axis is {100 * abs(off):.0f} % too {side} beside it "
            f"({abs(off) / sd:.1f} SD). Likely, in order: wrong phase; a pulmonary vein "
            "included; oblique aorta."
        )
    else:
        text += ": they agree."
    return Judgement(
        wrong=wrong,
        unusable=0.7 * wrong,
        message=text,
        manoeuvre="left-atrium",
        files=files_of(length, long_axis),
    )


def _by_ratio(short_axis: Seen, long_axis: Seen, annulus: Seen) -> tuple[float, float, str]:
    long_ratio = long_axis.value / annulus.value
    off = log(short_axis.value / long_ratio) - RATIO_CENTRE
    sd = hypot(RATIO_SPREAD, short_axis.share, ratio_share(long_axis, annulus))
    return (
        off,
        sd,
        f"LA:Ao {short_axis.value:.2f} in short axis and {long_ratio:.2f} in long axis",
    )


LAW = Law(
    id="atrium-short-against-long-axis",
    about=("LA", "LAD"),
    needs=(),
    judge=judge,
    sources=("strohm2018", "hansson2002", "cornell2004", "marchesotti2019"),
)
