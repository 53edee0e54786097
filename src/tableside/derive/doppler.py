"""Doppler: pressure drops from speeds, and ratios of speeds."""

from collections.abc import Sequence
from math import cos, radians
from statistics import fmean

from tableside.errors import OutOfRange, require

METRES_A_SECOND = "Is the trace in cm/s? Convert it first."


def simplified_bernoulli(jet_m_s: float) -> float:
    r"""Pressure drop across an orifice, from the peak speed of the jet.

    .. math:: \Delta P = 4 v^2

    Parameters
    ----------
    jet_m_s : float
        Peak jet speed, m/s, without sign.

    Returns
    -------
    float
        Peak instantaneous pressure drop, mmHg.

    Raises
    ------
    OutOfRange
        Outside 0 to 9 m/s.

    Notes
    -----
    Holds while the speed before the orifice is small (below about 1 to 1.5 m/s) and friction
    and inertia are negligible. The 4 is half the density of blood: 1060 kg/m³ gives 530 Pa, or
    3.98 mmHg, per (m/s)². An error in speed counts twice:
    :math:`\sigma_P / P = 2 \sigma_v / v`; a beam off axis by :math:`\theta` reads low
    by :math:`\cos^2 \theta`.

    Sources: [hatle], [kittlesoncases].
    """
    require("jet_m_s", jet_m_s, 0.0, 9.0, METRES_A_SECOND)
    return 4.0 * jet_m_s**2


def bernoulli_with_proximal(jet_m_s: float, proximal_m_s: float) -> float:
    r"""Pressure drop across an orifice when the flow before it is already fast.

    .. math:: \Delta P = 4 (v_2^2 - v_1^2)

    Parameters
    ----------
    jet_m_s : float
        Peak jet speed beyond the orifice, m/s, without sign.
    proximal_m_s : float
        Peak speed before the orifice, m/s, without sign.

    Returns
    -------
    float
        Peak pressure drop, mmHg.

    Raises
    ------
    OutOfRange
        When the jet is outside 0 to 9 m/s or slower than the flow before it.

    Notes
    -----
    Use it from about 1 m/s before the orifice. Errors of both speeds count, each by eight times
    its speed.

    Sources: [hatle].
    """
    require("jet_m_s", jet_m_s, 0.0, 9.0, METRES_A_SECOND)
    hint = "The jet is the faster one: are the two swapped?"
    require("proximal_m_s", proximal_m_s, 0.0, jet_m_s, hint)
    return 4.0 * (jet_m_s**2 - proximal_m_s**2)


def mean_gradient(speeds_m_s: Sequence[float]) -> float:
    r"""Mean pressure drop over the ejection, from evenly timed speeds.

    .. math:: \overline{\Delta P} = \overline{4 v(t)^2}

    Parameters
    ----------
    speeds_m_s : sequence of float
        Speeds at equal time steps from onset to end of flow, m/s, without sign.

    Returns
    -------
    float
        Mean pressure drop, mmHg.

    Raises
    ------
    OutOfRange
        For no speeds, or one outside 0 to 9 m/s.

    Notes
    -----
    The mean of the squares, not the square of the mean: half a sine wave differs by 1.23, a
    triangle by 1.33. A share of error in speed counts twice.

    Sources: [quinones2002].
    """
    if not speeds_m_s:
        raise OutOfRange("speeds = none; allowed 1 or more. Trace the envelope first.")
    return fmean(simplified_bernoulli(speed) for speed in speeds_m_s)


def speed_share(angle_deg: float) -> float:
    r"""Share of the speed that a beam off the axis of flow reads.

    .. math:: \frac{v_{read}}{v} = \cos\theta

    Parameters
    ----------
    angle_deg : float
        Angle between beam and flow, degrees.

    Returns
    -------
    float
        Share of the true speed, 1 when aligned.

    Raises
    ------
    OutOfRange
        Outside 0 to 90 degrees.

    Notes
    -----
    For judging how low a reading may be, not for correcting it: jets are not angle-corrected.
    Above 20 degrees the reading is refused. The share of pressure is the square.

    Sources: [quinones2002].
    """
    require("angle_deg", angle_deg, 0.0, 90.0, "Give degrees between beam and flow.")
    return cos(radians(angle_deg))


def peak_ratio(early_m_s: float, other_m_s: float) -> float:
    r"""Early mitral peak over another peak: of the atrial wave, or of the annulus.

    .. math:: \frac{E}{A} \quad \text{or} \quad \frac{E}{E'}

    Parameters
    ----------
    early_m_s : float
        Early diastolic peak of mitral inflow, m/s, pulsed wave at the leaflet tips.
    other_m_s : float
        Atrial peak of the same beats, or early peak of the mitral annulus, m/s, pulsed wave.

    Returns
    -------
    float
        Ratio.

    Raises
    ------
    OutOfRange
        For an E outside 0.05 to 5 m/s or another peak outside 0.005 to 5 m/s.

    Notes
    -----
    E and A fuse above about 125 beats/min in dogs and 180 in cats: then there is no ratio.
    Annular speeds by colour read about 2.2 cm/s lower than by pulsed wave. Shares of error add
    in squares; the scale of one image cancels.

    Sources: [schober2001flow], [choi2013], [wess2010tvi].
    """
    require("early_m_s", early_m_s, 0.05, 5.0, METRES_A_SECOND)
    require("other_m_s", other_m_s, 0.005, 5.0, METRES_A_SECOND)
    return early_m_s / other_m_s


def early_peak_over_relaxation(early_cm_s: float, ivrt_ms: float) -> float:
    r"""Early mitral peak over the isovolumic relaxation time.

    .. math:: \frac{E}{IVRT}

    Parameters
    ----------
    early_cm_s : float
        Early diastolic peak of mitral inflow, cm/s.
    ivrt_ms : float
        Isovolumic relaxation time, ms.

    Returns
    -------
    float
        Ratio, (cm/s)/ms.

    Raises
    ------
    OutOfRange
        For an E outside 5 to 500 cm/s or a time outside 5 to 250 ms.

    Notes
    -----
    Rises with left atrial pressure. Shares of error add in squares; the short time is the
    larger one.

    Sources: [schober2010].
    """
    require("early_cm_s", early_cm_s, 5.0, 500.0, "Is it in m/s? Multiply by 100.")
    require("ivrt_ms", ivrt_ms, 5.0, 250.0, "Is it in seconds? Multiply by 1000.")
    return early_cm_s / ivrt_ms


def pressure_half_time(deceleration_ms: float) -> float:
    r"""Time in which a pressure drop halves, from the deceleration time.

    .. math:: PHT = 0.29 \, DT

    Parameters
    ----------
    deceleration_ms : float
        Time from the peak to where its slope meets the baseline, ms.

    Returns
    -------
    float
        Pressure half-time, ms.

    Raises
    ------
    OutOfRange
        Outside 10 to 3000 ms.

    Notes
    -----
    The speed falls to its peak over the square root of 2 after 1 - 1/√2 = 0.293 of a straight
    deceleration; the printed 0.29 is kept. A share of error in DT counts once.

    Sources: [hatle].
    """
    require("deceleration_ms", deceleration_ms, 10.0, 3000.0, "Is it in seconds?")
    return 0.29 * deceleration_ms
