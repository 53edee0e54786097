"""Times of the beat, and speeds of contraction made from them."""

from math import sqrt

from tableside.errors import require

MILLISECONDS = "Is it in seconds? Multiply by 1000."


def acceleration_share(acceleration_ms: float, ejection_ms: float) -> float:
    r"""Share of the ejection that passes until the peak.

    .. math:: \frac{AT}{ET}

    Parameters
    ----------
    acceleration_ms : float
        Time from onset to peak of pulmonic outflow, ms.
    ejection_ms : float
        Time from onset to end of the same flow, ms.

    Returns
    -------
    float
        Ratio.

    Raises
    ------
    OutOfRange
        For an ejection outside 30 to 500 ms or an acceleration outside 5 ms to the ejection.

    Notes
    -----
    Falls as pulmonary pressure rises. Shares of error add in squares; the sweep cancels.

    Sources: [visser2016], [schober2006].
    """
    require("ejection_ms", ejection_ms, 30.0, 500.0, MILLISECONDS)
    hint = "The peak comes before the end: are the two swapped?"
    require("acceleration_ms", acceleration_ms, 5.0, ejection_ms, hint)
    return acceleration_ms / ejection_ms


def systolic_time_ratio(preejection_ms: float, ejection_ms: float) -> float:
    r"""Time before ejection over the time of ejection.

    .. math:: \frac{PEP}{ET}

    Parameters
    ----------
    preejection_ms : float
        Time from QRS onset to onset of aortic outflow, ms.
    ejection_ms : float
        Time from onset to end of aortic outflow, ms.

    Returns
    -------
    float
        Ratio.

    Raises
    ------
    OutOfRange
        For a time before ejection outside 5 to 300 ms or an ejection outside 30 to 500 ms.

    Notes
    -----
    Rises as the ventricle weakens. Shares of error add in squares; the sweep cancels.

    Sources: [atkins1992].
    """
    require("preejection_ms", preejection_ms, 5.0, 300.0, MILLISECONDS)
    require("ejection_ms", ejection_ms, 30.0, 500.0, MILLISECONDS)
    return preejection_ms / ejection_ms


def ejection_time_index(ejection_ms: float, rate_per_min: float) -> float:
    r"""Ejection time freed of heart rate, for dogs.

    .. math:: LVETI = ET + 0.55 \, HR

    Parameters
    ----------
    ejection_ms : float
        Time from onset to end of aortic outflow, ms.
    rate_per_min : float
        Heart rate over the same beats, beats/min.

    Returns
    -------
    float
        Ejection time index, ms.

    Raises
    ------
    OutOfRange
        For an ejection outside 30 to 500 ms or a rate outside 20 to 350 beats/min.

    Notes
    -----
    The regression is that of dogs. The sweep counts in full.

    Sources: [atkins1992].
    """
    require("ejection_ms", ejection_ms, 30.0, 500.0, MILLISECONDS)
    require("rate_per_min", rate_per_min, 20.0, 350.0, "Give beats a minute.")
    return ejection_ms + 0.55 * rate_per_min


def shortening_velocity(shortening: float, ejection_s: float) -> float:
    r"""Mean speed of circumferential fibre shortening.

    .. math:: V_{cf} = \frac{FS}{ET}

    Parameters
    ----------
    shortening : float
        Fractional shortening as a share, not in percent.
    ejection_s : float
        Time of left ventricular ejection, s.

    Returns
    -------
    float
        Circumferences a second.

    Raises
    ------
    OutOfRange
        For a shortening outside 0 to 1 or an ejection outside 0.03 to 0.5 s.

    Notes
    -----
    Shortening and ejection usually come from different images. Shares of error add in squares.

    Sources: [atkins1992].
    """
    require("shortening", shortening, 0.0, 1.0, "Is it in percent? Divide by 100.")
    require("ejection_s", ejection_s, 0.03, 0.5, "Is it in milliseconds? Divide by 1000.")
    return shortening / ejection_s


def rate_corrected_shortening_velocity(velocity_per_s: float, rate_per_min: float) -> float:
    r"""Speed of fibre shortening freed of heart rate.

    .. math:: V_{cf,c} = V_{cf} \sqrt{RR}

    Parameters
    ----------
    velocity_per_s : float
        Speed of circumferential fibre shortening, circumferences a second.
    rate_per_min : float
        Heart rate, beats/min; RR is 60 over it, in seconds.

    Returns
    -------
    float
        Circumferences a second at 60 beats/min.

    Raises
    ------
    OutOfRange
        For a speed outside 0 to 20 or a rate outside 20 to 350 beats/min.

    Notes
    -----
    A share of error in rate counts half.

    Sources: [atkins1992].
    """
    require("velocity_per_s", velocity_per_s, 0.0, 20.0, "Give circumferences a second.")
    require("rate_per_min", rate_per_min, 20.0, 350.0, "Give beats a minute.")
    return velocity_per_s * sqrt(60.0 / rate_per_min)


def pressure_rise_rate(rise_s: float) -> float:
    r"""Mean rate of left ventricular pressure rise, from the mitral jet.

    .. math:: \frac{dP}{dt} = \frac{4 (3^2 - 1^2)}{t} = \frac{32}{t}

    Parameters
    ----------
    rise_s : float
        Time in which the mitral jet goes from 1 to 3 m/s, s.

    Returns
    -------
    float
        Rate of pressure rise, mmHg/s.

    Raises
    ------
    OutOfRange
        Outside 0.004 to 0.2 s.

    Notes
    -----
    Holds while left atrial pressure hardly rises in that time. A share of error in the short
    time counts once: 3 ms at 20 ms is 15 %.

    Sources: [bargiggia1989].
    """
    require("rise_s", rise_s, 0.004, 0.2, "Is it in milliseconds? Divide by 1000.")
    return 32.0 / rise_s


def performance_index(closed_ms: float, ejection_ms: float) -> float:
    r"""Isovolumic times over ejection time.

    .. math:: IMP = \frac{MCO - ET}{ET}

    Parameters
    ----------
    closed_ms : float
        Time from mitral closure to mitral opening, ms.
    ejection_ms : float
        Time of ejection, ms.

    Returns
    -------
    float
        Ratio.

    Raises
    ------
    OutOfRange
        For an ejection outside 30 to 500 ms or a closed time shorter than it or above 800 ms.

    Notes
    -----
    Both times are long and their difference is short: errors grow. The sweep cancels.

    Sources: [lee2002], [tei].
    """
    require("ejection_ms", ejection_ms, 30.0, 500.0, MILLISECONDS)
    hint = "The valve is closed at least as long as the ventricle ejects."
    require("closed_ms", closed_ms, ejection_ms, 800.0, hint)
    return (closed_ms - ejection_ms) / ejection_ms
