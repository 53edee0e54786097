"""Whether R waves fit the motion of the ventricle: each is followed by a contraction."""

from collections.abc import Sequence
from statistics import fmean, median

LAG_S = (0.02, 0.26)  # from R to the steepest fall of the cavity, in a dog or cat
SAME_LAG_S = 0.06  # how far the lag of a beat may lie from the usual one
LEAST_SHARE = 0.65  # of the R waves that must have that lag
MOST_WITHOUT = 0.5  # of the contractions between R waves that may have none


def is_in_step(r_s: Sequence[float], contractions_s: Sequence[float]) -> bool:
    """Return whether contractions follow R waves as they must.

    Parameters
    ----------
    r_s : sequence of float
        Times of the R waves, ordered.
    contractions_s : sequence of float
        Times at which the cavity shrinks fastest, ordered; on the same clock.

    Notes
    -----
    An R wave is followed by a contraction after nearly the same time in every beat. What was
    taken for an electrocardiogram but is none (an echo, a frame) has no such order. Where no
    contraction follows any R wave nothing can be said, and the answer is yes.
    """
    lags = [
        min(at for at in contractions_s if at > r) - r
        for r in r_s
        if any(at > r for at in contractions_s)
    ]
    if not lags:
        return True
    usual = median(lags)
    same = fmean(abs(lag - usual) <= SAME_LAG_S for lag in lags)
    between = [at for at in contractions_s if r_s[0] < at < r_s[-1]]
    without = [all(not 0 < at - r < LAG_S[1] + SAME_LAG_S for r in r_s) for at in between]
    return (
        LAG_S[0] <= usual <= LAG_S[1]
        and same >= LEAST_SHARE
        and (not without or fmean(without) <= MOST_WITHOUT)
    )
