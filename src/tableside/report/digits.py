"""How a number is written: as many digits as its doubt allows, and never one that is not."""

from math import floor, isfinite, log10

MINUS = "\u2212"
NEVER_MORE = 3  # decimals; past that a reader sees noise


def significant(value: float, digits: int = 6) -> float:
    """Round to so many significant digits."""
    return float(f"{value:.{digits}g}")


def decimals(sd: float, value: float) -> int:
    """Return the decimals worth writing: those that the standard deviation leaves standing.

    One figure of the standard deviation, two where it begins with a 1; two decimals are enough
    for a value above 0.5. Without a standard deviation, three figures of the value. Source of
    the rule: GUM (JCGM 100:2008), 7.2.6: at most two significant digits of the uncertainty.
    """
    leading, figures = (sd, 2 if f"{sd:e}"[0] == "1" else 1) if sd > 0 else (abs(value), 3)
    if not leading or not isfinite(leading):
        return 2
    most = 2 if abs(value) >= 0.5 else NEVER_MORE
    return min(most, max(0, figures - 1 - floor(log10(leading))))


def written(value: float, places: int) -> str:
    """Return a number with a real minus sign and no negative zero."""
    digits = f"{value:.{places}f}"
    if float(digits) == 0:
        digits = digits.lstrip("-")
    return digits.replace("-", MINUS)


def with_sd(value: float, sd: float) -> str:
    """Return ``3.52 ± 0.07``."""
    places = decimals(sd, value)
    return f"{written(value, places)} ± {written(sd, places)}" if sd else written(value, places)


def in_words(probability: float) -> str:
    """Say how likely something is.

    Source: IPCC, Guidance Note on Consistent Treatment of Uncertainties (2010), Table 1.
    """
    scale = (
        (0.99, "virtually certain"),
        (0.90, "very likely"),
        (0.66, "likely"),
        (0.50, "more likely than not"),
        (0.33, "about as likely as not"),
        (0.10, "unlikely"),
        (0.01, "very unlikely"),
    )
    return next((words for low, words in scale if probability >= low), "exceptionally unlikely")


def percent(probability: float) -> str:
    """Return a probability as a person reads it, never 0 or 100 %; it does not break."""
    if probability < 0.01:
        return "<1\u00a0%"
    if probability > 0.99:
        return ">99\u00a0%"
    return f"{100 * probability:.0f}\u00a0%"
