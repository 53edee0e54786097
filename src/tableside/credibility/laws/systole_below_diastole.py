"""In systole the cavity is smaller and the walls are thicker than in diastole.

Row 13 of the rule table, an exact order: LVIDs < LVIDd, IVSs >= 0.95 IVSd, LVPWs >= LVPWd,
and the same for areas, lengths and volumes. How unlikely the pair is follows from how far
apart the two usually are. A cavity that is larger in systole cannot be used whatever the
reason (its shortening would be negative) and fails at once.

Sources: logic; usual ratios are those of Cornell's table of 494 dogs [cornell2004], wider
here to hold disease (design).
"""

from dataclasses import dataclass
from math import hypot, log

from tableside.credibility.evidence import Seen, files_of, ratio_share, seen
from tableside.credibility.fault import DOUBTFUL, FAILS, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

FAULT_SPREAD = 0.5


@dataclass(frozen=True, slots=True)
class Order:
    """A pair, systole first; its usual log ratio and spread; which way it must go."""

    systole: str
    diastole: str
    usual: float
    spread: float
    is_smaller: bool
    slack: float = 1.0


ORDERS = (
    Order("LVIDs", "LVIDd", -0.45, 0.17, is_smaller=True),
    Order("IVSs", "IVSd", 0.35, 0.15, is_smaller=False, slack=0.95),
    Order("LVPWs", "LVPWd", 0.42, 0.17, is_smaller=False),
    Order("ESV", "EDV", -0.9, 0.32, is_smaller=True),
    Order("LVAs", "LVAd", -0.7, 0.25, is_smaller=True),
    Order("LVLs", "LVLd", -0.17, 0.07, is_smaller=True),
)


def judge(exam: Exam) -> Judgement | None:
    """Judge every pair that was measured and report the worst."""
    found = []
    for order in ORDERS:
        systole, diastole = seen(exam, order.systole), seen(exam, order.diastole)
        if systole is not None and diastole is not None:
            found.append(_judge_pair(order, systole, diastole))
    if not found:
        return None
    return max(found, key=lambda one: one.wrong)


def _judge_pair(order: Order, systole: Seen, diastole: Seen) -> Judgement:
    ratio = systole.value / diastole.value
    sign = 1.0 if order.is_smaller else -1.0
    off = max(0.0, sign * (log(ratio) - order.usual))
    sd = hypot(order.spread, ratio_share(systole, diastole))
    wrong = probability_wrong(off, sd, FAULT_SPREAD)
    broken = ratio >= 1 if order.is_smaller else ratio < order.slack
    if not broken and wrong < DOUBTFUL:
        message = f"{systole.name} {systole.value:.3g} and {diastole.name} {diastole.value:.3g}"
        return _judgement(wrong, f"{message}: the order is right.", (systole, diastole))
    if broken:
        wrong = max(wrong, FAILS if order.is_smaller else DOUBTFUL)
    side = "larger" if order.is_smaller else "thinner"
    not_side = "barely smaller" if order.is_smaller else "barely thicker"
    message = (
        f"{systole.name} {systole.value:.2f} is {side if broken else not_side} than "
        f"{diastole.name} {diastole.value:.2f} ({100 * abs(ratio - 1):.0f} %, {off / sd:.1f} "
        "SD from the usual). Likely, in order: the phases were swapped; a wrong frame or "
        "beat; two images of different scale."
    )
    return _judgement(wrong, message, (systole, diastole))


def _judgement(wrong: float, message: str, ones: tuple[Seen, Seen]) -> Judgement:
    return Judgement(
        wrong=wrong,
        unusable=wrong,
        message=message,
        manoeuvre="phases",
        about=tuple(one.name for one in ones),
        files=files_of(*ones),
    )


LAW = Law(
    id="systole-below-diastole",
    about=("LVIDs", "LVIDd"),
    needs=(),
    judge=judge,
    sources=("cornell2004",),
    concerns=tuple(order.systole for order in ORDERS),
)
