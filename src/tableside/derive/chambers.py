"""Chambers and walls: what is lost in systole, and the mass."""

from tableside.errors import require

SWAPPED = "Systole cannot be larger than diastole: are the two swapped?"
CENTIMETRES = "Is it in millimetres? Divide by 10."


def fractional_shortening(lvidd_cm: float, lvids_cm: float) -> float:
    r"""Share of the left ventricular diameter lost in systole.

    .. math:: FS = 100 \, \frac{LVIDd - LVIDs}{LVIDd}

    Parameters
    ----------
    lvidd_cm : float
        Left ventricular diameter at end diastole, cm, short axis.
    lvids_cm : float
        The same at end systole, cm, same beat or the mean of the same beats.

    Returns
    -------
    float
        Fractional shortening, %.

    Raises
    ------
    OutOfRange
        When diastole is not 0.3 to 15 cm or systole is larger than diastole.

    Notes
    -----
    Holds for one line through a ventricle that contracts evenly. Both errors count:
    :math:`\sigma_{FS}^2 = (s/d^2)^2 \sigma_d^2 + \sigma_s^2 / d^2`; the scale cancels.

    Sources: [nelsoncouto6].
    """
    require("lvidd_cm", lvidd_cm, 0.3, 15.0, CENTIMETRES)
    require("lvids_cm", lvids_cm, 0.0, lvidd_cm, SWAPPED)
    return 100.0 * (lvidd_cm - lvids_cm) / lvidd_cm


def ventricular_mass(ivsd_cm: float, lvidd_cm: float, lvpwd_cm: float) -> float:
    r"""Mass of the left ventricle by the cube formula.

    .. math:: 0.8 \cdot 1.04 \, [(IVSd + LVIDd + LVPWd)^3 - LVIDd^3] + 0.6

    Parameters
    ----------
    ivsd_cm : float
        Septum at end diastole, cm.
    lvidd_cm : float
        Diameter at end diastole, cm.
    lvpwd_cm : float
        Free wall at end diastole, cm.

    Returns
    -------
    float
        Mass, g.

    Raises
    ------
    OutOfRange
        For a wall outside 0.05 to 5 cm or a diameter outside 0.3 to 15 cm.

    Notes
    -----
    The 0.8 and 0.6 were fitted to people; no interval for dogs is agreed on. The cube triples
    a share of error in the outer diameter; the scale of the image counts three times.

    Sources: [devereux1986].
    """
    require("ivsd_cm", ivsd_cm, 0.05, 5.0, CENTIMETRES)
    require("lvidd_cm", lvidd_cm, 0.3, 15.0, CENTIMETRES)
    require("lvpwd_cm", lvpwd_cm, 0.05, 5.0, CENTIMETRES)
    outer_cm = ivsd_cm + lvidd_cm + lvpwd_cm
    return float(0.8 * 1.04 * (outer_cm**3 - lvidd_cm**3) + 0.6)


def fractional_area_change(diastolic_cm2: float, systolic_cm2: float) -> float:
    r"""Share of the ventricular area lost in systole.

    .. math:: FAC = 100 \, \frac{A_d - A_s}{A_d}

    Parameters
    ----------
    diastolic_cm2 : float
        Area at end diastole, cm2.
    systolic_cm2 : float
        Area at end systole, cm2, same view.

    Returns
    -------
    float
        Fractional area change, %.

    Raises
    ------
    OutOfRange
        When diastole is not 0.1 to 200 cm2 or systole is larger than diastole.

    Notes
    -----
    Holds while both frames cut the same section. Shares of error add in squares on the ratio
    of the areas; the scale of one image cancels.

    Sources: [visser2015].
    """
    require("diastolic_cm2", diastolic_cm2, 0.1, 200.0, "Is it in mm2? Divide by 100.")
    require("systolic_cm2", systolic_cm2, 0.0, diastolic_cm2, SWAPPED)
    return 100.0 * (diastolic_cm2 - systolic_cm2) / diastolic_cm2


def diameter_lost(larger_mm: float, smaller_mm: float) -> float:
    r"""Share of a diameter lost over the beat, of the right pulmonary artery or left atrium.

    .. math:: 100 \, \frac{D_{max} - D_{min}}{D_{max}}

    Parameters
    ----------
    larger_mm : float
        Largest diameter, mm: systole of the artery, end systole of the atrium.
    smaller_mm : float
        Smallest diameter of the same beat, mm.

    Returns
    -------
    float
        Share lost, %.

    Raises
    ------
    OutOfRange
        When the larger is not 1 to 120 mm or the smaller is larger.

    Notes
    -----
    Holds on one M-mode line that stays in the structure. The scale of one image cancels.

    Sources: [visser2016], [luisfuentes2020].
    """
    require("larger_mm", larger_mm, 1.0, 120.0, "Is it in centimetres? Multiply by 10.")
    require("smaller_mm", smaller_mm, 0.0, larger_mm, "Are the two swapped?")
    return 100.0 * (larger_mm - smaller_mm) / larger_mm
