"""Pressures in the heart and the lungs, from jets and a pressure that is known or assumed."""

from tableside.errors import require

METRES_A_SECOND = "Is the trace in cm/s? Convert it first."
MERCURY = "Give mmHg."


def right_ventricular_pressure(tricuspid_m_s: float, atrium_mmHg: float) -> float:
    r"""Systolic pressure of the right ventricle, from the tricuspid jet.

    .. math:: RVSP = 4 v_{TR}^2 + RAP

    Parameters
    ----------
    tricuspid_m_s : float
        Peak speed of tricuspid regurgitation, m/s, without sign.
    atrium_mmHg : float
        Right atrial pressure, mmHg: measured, or assumed and said so.

    Returns
    -------
    float
        Right ventricular systolic pressure, mmHg.

    Raises
    ------
    OutOfRange
        For a jet outside 0 to 7.5 m/s or an atrial pressure outside 0 to 30 mmHg.

    Notes
    -----
    It is the systolic pressure of the pulmonary artery too where the outflow is free. Assumed
    right atrial pressures are 5 (normal), 10 (dilated atrium), 15 mmHg (right-sided failure).
    An error in speed counts twice.

    Sources: [csaim].
    """
    require("tricuspid_m_s", tricuspid_m_s, 0.0, 7.5, METRES_A_SECOND)
    require("atrium_mmHg", atrium_mmHg, 0.0, 30.0, MERCURY)
    return 4.0 * tricuspid_m_s**2 + atrium_mmHg


def pulmonary_systolic_pressure(ventricle_mmHg: float, outflow_m_s: float) -> float:
    r"""Systolic pressure of the pulmonary artery beyond a narrowed outflow.

    .. math:: PASP = RVSP - 4 v_{PV}^2

    Parameters
    ----------
    ventricle_mmHg : float
        Right ventricular systolic pressure, mmHg.
    outflow_m_s : float
        Peak speed of pulmonic outflow, m/s, without sign.

    Returns
    -------
    float
        Pulmonary artery systolic pressure, mmHg.

    Raises
    ------
    OutOfRange
        For an outflow below 2.24 m/s (20 mmHg: not narrowed, PASP is RVSP) or above 9 m/s, or
        one whose pressure drop is larger than the ventricle's pressure.

    Notes
    -----
    Peaks of the two jets are not simultaneous, so it reads low. Errors of both count.

    Sources: [csaim], [expertvet].
    """
    hint = "Below 2.24 m/s the outflow is free: the pressure is that of the ventricle."
    require("outflow_m_s", outflow_m_s, 2.24, 9.0, hint)
    hint = "The drop is larger than the pressure before it: check both jets."
    require("ventricle_mmHg", ventricle_mmHg, 4.0 * outflow_m_s**2, 300.0, hint)
    return ventricle_mmHg - 4.0 * outflow_m_s**2


def pulmonary_diastolic_pressure(end_m_s: float, ventricle_mmHg: float) -> float:
    r"""Diastolic pressure of the pulmonary artery, from the end of pulmonic regurgitation.

    .. math:: PADP = 4 v_{PR,end}^2 + RVEDP

    Parameters
    ----------
    end_m_s : float
        Speed of pulmonic regurgitation at end diastole, m/s, without sign.
    ventricle_mmHg : float
        Right ventricular end-diastolic (or right atrial) pressure, mmHg, known or assumed.

    Returns
    -------
    float
        Pulmonary artery diastolic pressure, mmHg.

    Raises
    ------
    OutOfRange
        For a jet outside 0 to 6 m/s or a pressure outside 0 to 30 mmHg.

    Notes
    -----
    Holds while the jet is traced to the R wave. An error in speed counts twice.

    Sources: [nelsoncouto6].
    """
    require("end_m_s", end_m_s, 0.0, 6.0, METRES_A_SECOND)
    require("ventricle_mmHg", ventricle_mmHg, 0.0, 30.0, MERCURY)
    return 4.0 * end_m_s**2 + ventricle_mmHg


def pulmonary_mean_pressure(peak_m_s: float, atrium_mmHg: float) -> float:
    r"""Mean pressure of the pulmonary artery, from the peak of pulmonic regurgitation.

    .. math:: PAMP \approx 4 v_{PR}^2 + RAP

    Parameters
    ----------
    peak_m_s : float
        Early diastolic peak speed of pulmonic regurgitation, m/s, without sign.
    atrium_mmHg : float
        Right atrial pressure, mmHg, known or assumed.

    Returns
    -------
    float
        Pulmonary artery mean pressure, mmHg.

    Raises
    ------
    OutOfRange
        For a jet outside 0 to 6 m/s or a pressure outside 0 to 30 mmHg.

    Notes
    -----
    An approximation; some leave the right atrial pressure out. An error in speed counts twice.

    Sources: [nelsoncouto6].
    """
    require("peak_m_s", peak_m_s, 0.0, 6.0, METRES_A_SECOND)
    require("atrium_mmHg", atrium_mmHg, 0.0, 30.0, MERCURY)
    return 4.0 * peak_m_s**2 + atrium_mmHg


def mean_from_systolic_pressure(systolic_mmHg: float) -> float:
    r"""Mean pressure of the pulmonary artery, from its systolic pressure.

    .. math:: PAMP = 0.61 \, PASP + 2

    Parameters
    ----------
    systolic_mmHg : float
        Pulmonary artery systolic pressure, mmHg.

    Returns
    -------
    float
        Pulmonary artery mean pressure, mmHg.

    Raises
    ------
    OutOfRange
        Outside 5 to 250 mmHg.

    Notes
    -----
    Fitted to people. An error in the systolic pressure counts 0.61 times.

    Sources: [chemla2004].
    """
    require("systolic_mmHg", systolic_mmHg, 5.0, 250.0, MERCURY)
    return 0.61 * systolic_mmHg + 2.0


def pulmonary_resistance(tricuspid_m_s: float, outflow_vti_cm: float) -> float:
    r"""Resistance of the lungs, from the tricuspid jet and the pulmonic outflow.

    .. math:: PVR = 10 \, \frac{v_{TR}}{VTI_{RVOT}} + 0.16

    Parameters
    ----------
    tricuspid_m_s : float
        Peak speed of tricuspid regurgitation, m/s, without sign.
    outflow_vti_cm : float
        Velocity-time integral of pulmonic outflow, cm.

    Returns
    -------
    float
        Pulmonary vascular resistance, Wood units.

    Raises
    ------
    OutOfRange
        For a jet outside 0 to 7.5 m/s or an integral outside 1 to 150 cm.

    Notes
    -----
    Fitted to people: a rank, not a number to treat by. Shares of error add in squares.

    Sources: [abbas2003].
    """
    require("tricuspid_m_s", tricuspid_m_s, 0.0, 7.5, METRES_A_SECOND)
    require("outflow_vti_cm", outflow_vti_cm, 1.0, 150.0, "Is it in metres? Multiply by 100.")
    return 10.0 * tricuspid_m_s / outflow_vti_cm + 0.16


def left_atrial_pressure(systolic_mmHg: float, jet_m_s: float) -> float:
    r"""Left atrial pressure in systole, from the cuff and the mitral jet.

    .. math:: LAP = SBP - 4 v_{MR}^2

    Parameters
    ----------
    systolic_mmHg : float
        Systolic pressure by cuff, mmHg, for that of the left ventricle.
    jet_m_s : float
        Peak speed of mitral regurgitation, m/s, without sign.

    Returns
    -------
    float
        Left atrial pressure, mmHg.

    Raises
    ------
    OutOfRange
        For a pressure outside 30 to 300 mmHg, a jet outside 0 to 9 m/s, or a result outside 0
        to 60 mmHg: beyond that the jet is read off its axis or the cuff is wrong.

    Notes
    -----
    Holds without outflow obstruction. A small difference of two large numbers: 0.1 m/s at
    5 m/s is 4 mmHg, and a jet off axis makes the atrium look worse.

    Sources: [kittlesoncases].
    """
    beyond_mmHg = pressure_beyond(systolic_mmHg, jet_m_s)
    hint = "The jet is too slow for this cuff pressure: align the beam, measure both again."
    require("left atrial pressure in mmHg", beyond_mmHg, 0.0, 60.0, hint)
    return beyond_mmHg


def pressure_beyond(systolic_mmHg: float, jet_m_s: float) -> float:
    r"""Pressure beyond an opening, from the pressure before it and the jet through it.

    .. math:: P_2 = P_1 - 4 v^2

    Parameters
    ----------
    systolic_mmHg : float
        Pressure before the opening, mmHg: by cuff for a septal defect or an arterial duct.
    jet_m_s : float
        Peak speed of the jet, m/s, without sign.

    Returns
    -------
    float
        Pressure beyond, mmHg: of the right ventricle (septal defect) or of the pulmonary artery
        (arterial duct, in systole or diastole).

    Raises
    ------
    OutOfRange
        For a pressure outside 30 to 300 mmHg, a jet outside 0 to 9 m/s, or a drop larger than
        the pressure.

    Notes
    -----
    Holds without outflow obstruction. A jet off axis makes the pressure beyond look high; an
    error in speed counts eight times the speed.

    Sources: [kittlesoncases], [csaim].
    """
    require("systolic_mmHg", systolic_mmHg, 30.0, 300.0, MERCURY)
    require("jet_m_s", jet_m_s, 0.0, 9.0, METRES_A_SECOND)
    hint = "The drop is larger than the cuff's pressure: measure both again."
    require("4 v^2 in mmHg", 4.0 * jet_m_s**2, 0.0, systolic_mmHg, hint)
    return systolic_mmHg - 4.0 * jet_m_s**2


def wall_stress(systolic_mmHg: float, diameter_cm: float, wall_cm: float) -> float:
    r"""Meridional stress in the free wall of the left ventricle.

    .. math:: \sigma = \frac{0.334 \, P D}{h (1 + h/D)}

    Parameters
    ----------
    systolic_mmHg : float
        Pressure, mmHg; at end systole the cuff's systolic pressure stands in.
    diameter_cm : float
        Diameter, cm, at end systole.
    wall_cm : float
        Free wall, cm, in the same phase.

    Returns
    -------
    float
        Stress, 10^3 dyn/cm2.

    Raises
    ------
    OutOfRange
        For a pressure outside 30 to 300 mmHg, a diameter outside 0.1 to 15 cm, a wall outside
        0.05 to 5 cm.

    Notes
    -----
    Holds for a thick ellipsoid. A share of error in the wall counts more than once; the scale
    of one image cancels.

    Sources: [grossman1975].
    """
    require("systolic_mmHg", systolic_mmHg, 30.0, 300.0, MERCURY)
    require("diameter_cm", diameter_cm, 0.1, 15.0, "Is it in millimetres? Divide by 10.")
    require("wall_cm", wall_cm, 0.05, 5.0, "Is it in millimetres? Divide by 10.")
    return 0.334 * systolic_mmHg * diameter_cm / (wall_cm * (1.0 + wall_cm / diameter_cm))
