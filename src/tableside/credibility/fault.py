"""How likely a number is wrong, given how far it lies from what the rest says.

Two explanations compete. Either all is well and the difference is ordinary error, normal
with the standard deviations of the numbers and of the law added in squares; or a number is
wrong (wrong structure, phase, scale, a slip) and the difference may be anything within a
broad normal. Bayes' rule weighs them.

Sources: faults occur in 3 to 10 % of readings (a design choice, docs/checks.md); the gates
are chosen so that 2.5 standard deviations begin to be doubted.
"""

from math import erf, exp, hypot, log, sqrt

from tableside.model import Verdict

FAULT_PRIOR = 0.08
DOUBTFUL = 0.3  # about 2.5 standard deviations with a fault three times as broad
FAILS = 0.9  # about 3.6 standard deviations
SMALLEST_SD = 1e-6


def probability_wrong(
    difference: float, sd: float, fault_sd: float, prior: float = FAULT_PRIOR
) -> float:
    """Return the probability that the numbers cannot all be right.

    Parameters
    ----------
    difference : float
        What was read less what the law expects; 0 on the side a law does not forbid.
    sd : float
        Ordinary error of the difference, the law's own tolerance included.
    fault_sd : float
        How far off a wrong number typically is; same unit.
    prior : float
        Share of readings that are wrong before looking.
    """
    sd = max(abs(sd), SMALLEST_SD)
    broad = hypot(sd, fault_sd)
    log_odds = (
        log(prior / (1 - prior))
        + log(sd / broad)
        + 0.5 * difference**2 * (1 / sd**2 - 1 / broad**2)
    )
    return logistic(log_odds)


def logistic(log_odds: float) -> float:
    """Return the probability of log odds."""
    if log_odds >= 0:
        return 1 / (1 + exp(-min(log_odds, 700.0)))
    return exp(max(log_odds, -700.0)) / (1 + exp(max(log_odds, -700.0)))


def normal_cdf(z: float) -> float:
    """Return the probability that a standard normal lies below ``z``."""
    return 0.5 * (1 + erf(z / sqrt(2)))


def verdict(probability: float) -> Verdict:
    """Return the verdict on a probability of being wrong."""
    if probability >= FAILS:
        return Verdict.FAILS
    return Verdict.DOUBTFUL if probability >= DOUBTFUL else Verdict.HOLDS
