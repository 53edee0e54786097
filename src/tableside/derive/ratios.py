"""Ratios of sizes of one heart."""

from tableside.errors import require

CENTIMETRES = "Is it in millimetres? Divide by 10."
KILOGRAMS = "Is it in grams or pounds? Give kilograms."


def echo_ratio_index(size_cm: float, weight_kg: float) -> float:
    r"""Size over the aortic diameter that belongs to the body weight.

    .. math:: \frac{x}{Ao_w}, \qquad Ao_w = 0.795 \, BW^{1/3}

    Parameters
    ----------
    size_cm : float
        Diameter, thickness or separation, cm.
    weight_kg : float
        Body weight, kg.

    Returns
    -------
    float
        Ratio.

    Raises
    ------
    OutOfRange
        For a size outside 0 to 15 cm or a weight outside 0.3 to 120 kg.

    Notes
    -----
    Holds where body weight stands for body size (not in obesity). The constant was not read on
    a page. A share of error in weight counts a third; the scale of the image counts in full.

    Sources: [brown2003].
    """
    require("size_cm", size_cm, 0.0, 15.0, CENTIMETRES)
    require("weight_kg", weight_kg, 0.3, 120.0, KILOGRAMS)
    return float(size_cm / (0.795 * weight_kg ** (1 / 3)))


def diameter_ratio(size_cm: float, other_cm: float) -> float:
    r"""One diameter over another of the same image.

    .. math:: \frac{x}{y}

    Parameters
    ----------
    size_cm : float
        The diameter in question, cm: left atrium, left ventricle or pulmonary artery.
    other_cm : float
        The diameter that stands for body size, cm: aorta, aortic annulus or left ventricle.

    Returns
    -------
    float
        Ratio.

    Raises
    ------
    OutOfRange
        For a diameter outside 0.2 to 15 cm.

    Notes
    -----
    LA:Ao holds in short axis at the first frame after aortic valve closure, inner edges, both
    lines in one frame. Shares of error add in squares; the scale of one image cancels.

    Sources: [hansson2002], [rishniw2000], [strohm2018].
    """
    require("size_cm", size_cm, 0.2, 15.0, CENTIMETRES)
    require("other_cm", other_cm, 0.2, 15.0, CENTIMETRES)
    return size_cm / other_cm


def sphericity_index(lvld_cm: float, lvidd_cm: float) -> float:
    r"""Length of the left ventricle over its diameter; a round ventricle nears 1.

    .. math:: SI = \frac{LVLd}{LVIDd}

    Parameters
    ----------
    lvld_cm : float
        Length from apex to mitral annulus at end diastole, cm, 2-D.
    lvidd_cm : float
        Diameter at end diastole, cm, M-mode or 2-D short axis.

    Returns
    -------
    float
        Ratio.

    Raises
    ------
    OutOfRange
        For a length outside 0.5 to 20 cm or a diameter outside 0.3 to 15 cm.

    Notes
    -----
    Holds while the length reaches the true apex: a foreshortened view reads too round. Shares
    of error add in squares.

    Sources: [holler2014].
    """
    require("lvld_cm", lvld_cm, 0.5, 20.0, CENTIMETRES)
    require("lvidd_cm", lvidd_cm, 0.3, 15.0, CENTIMETRES)
    return lvld_cm / lvidd_cm


def relative_wall_thickness(lvpwd_cm: float, lvidd_cm: float) -> float:
    r"""Twice the free wall over the diameter of the left ventricle.

    .. math:: RWT = \frac{2 \, LVPWd}{LVIDd}

    Parameters
    ----------
    lvpwd_cm : float
        Free wall at end diastole, cm.
    lvidd_cm : float
        Diameter at end diastole, cm, same beat.

    Returns
    -------
    float
        Ratio.

    Raises
    ------
    OutOfRange
        For a wall outside 0.05 to 5 cm or a diameter outside 0.3 to 15 cm.

    Notes
    -----
    Some use septum plus free wall instead of twice the free wall. Shares of error add in
    squares; the scale of one image cancels.

    Sources: [lang2015].
    """
    require("lvpwd_cm", lvpwd_cm, 0.05, 5.0, CENTIMETRES)
    require("lvidd_cm", lvidd_cm, 0.3, 15.0, CENTIMETRES)
    return 2.0 * lvpwd_cm / lvidd_cm
