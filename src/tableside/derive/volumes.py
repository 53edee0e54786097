"""Volumes of the left ventricle and left atrium, and what they tell of the pump."""

from collections.abc import Sequence
from math import pi

from tableside.errors import OutOfRange, require

CENTIMETRES = "Is it in millimetres? Divide by 10."
SQUARE_CENTIMETRES = "Is it in mm2? Divide by 100."


def teichholz_volume(diameter_cm: float) -> float:
    r"""Volume of the left ventricle from one diameter.

    .. math:: V = \frac{7 D^3}{2.4 + D}

    Parameters
    ----------
    diameter_cm : float
        Left ventricular diameter, cm, at end diastole or end systole.

    Returns
    -------
    float
        Volume, mL.

    Raises
    ------
    OutOfRange
        Outside 0.3 to 15 cm.

    Notes
    -----
    Assumes the shape of a healthy human ventricle: not for a round, dilated or unevenly moving
    one. A share of error in the diameter counts two to three times.

    Sources: [teichholz1976].
    """
    require("diameter_cm", diameter_cm, 0.3, 15.0, CENTIMETRES)
    return float(7.0 * diameter_cm**3 / (2.4 + diameter_cm))


def ejection_fraction(edv_mL: float, esv_mL: float) -> float:
    r"""Share of the end-diastolic volume that leaves the ventricle.

    .. math:: EF = 100 \, \frac{EDV - ESV}{EDV}

    Parameters
    ----------
    edv_mL : float
        Volume at end diastole, mL.
    esv_mL : float
        Volume at end systole, mL, by the same method.

    Returns
    -------
    float
        Ejection fraction, %.

    Raises
    ------
    OutOfRange
        When diastole is not 0.01 to 1500 mL or systole is larger than diastole.

    Notes
    -----
    Say the method with the number: methods are not interchangeable. In mitral regurgitation
    part of what leaves goes back. The scale of one image cancels for traced volumes.

    Sources: [lang2015].
    """
    require("edv_mL", edv_mL, 0.01, 1500.0, "Give millilitres.")
    require("esv_mL", esv_mL, 0.0, edv_mL, "Systole cannot be larger: are the two swapped?")
    return 100.0 * (edv_mL - esv_mL) / edv_mL


def discs_volume(diameters_cm: Sequence[float], length_cm: float) -> float:
    r"""Volume of a stack of round discs of equal height.

    .. math:: V = \frac{\pi}{4} \frac{L}{N} \sum d_i^2

    Parameters
    ----------
    diameters_cm : sequence of float
        Widths across the long axis at equal steps, cm; usually 20.
    length_cm : float
        Length of the long axis, cm.

    Returns
    -------
    float
        Volume, mL.

    Raises
    ------
    OutOfRange
        For fewer than 3 discs, a width outside 0 to 15 cm or a length outside 0.5 to 20 cm.

    Notes
    -----
    Holds for a round cross-section. A share of error in width counts twice, in length once; a
    foreshortened view reads too small.

    Sources: [lang2015].
    """
    return biplane_discs_volume(diameters_cm, diameters_cm, length_cm)


def biplane_discs_volume(
    one_cm: Sequence[float], other_cm: Sequence[float], length_cm: float
) -> float:
    r"""Volume of a stack of oval discs from two views at right angles.

    .. math:: V = \frac{\pi}{4} \frac{L}{N} \sum a_i b_i

    Parameters
    ----------
    one_cm : sequence of float
        Widths in the first view at equal steps, cm.
    other_cm : sequence of float
        Widths in the second view, cm, as many.
    length_cm : float
        The longer of the two long axes, cm.

    Returns
    -------
    float
        Volume, mL.

    Raises
    ------
    OutOfRange
        For fewer than 3 discs, unequal numbers of discs, a width outside 0 to 15 cm or a length
        outside 0.5 to 20 cm.

    Notes
    -----
    Holds while both views reach the apex; lengths that differ by more than a fifth do not
    belong together. A share of error in each width and in the length counts once.

    Sources: [lang2015].
    """
    if len(one_cm) < 3 or len(one_cm) != len(other_cm):
        raise OutOfRange(
            f"discs = {len(one_cm)} and {len(other_cm)}; allowed 3 or more, as many in both "
            "views. Trace the outline again."
        )
    require("length_cm", length_cm, 0.5, 20.0, CENTIMETRES)
    for width_cm in (*one_cm, *other_cm):
        require("width_cm", width_cm, 0.0, 15.0, CENTIMETRES)
    areas = sum(a * b for a, b in zip(one_cm, other_cm, strict=True))
    return pi / 4.0 * length_cm / len(one_cm) * areas


def area_length_volume(area_cm2: float, length_cm: float) -> float:
    r"""Volume of the left ventricle from its area and length in one long-axis view.

    .. math:: V = \frac{8}{3\pi} \frac{A^2}{L}

    Parameters
    ----------
    area_cm2 : float
        Traced area of the cavity, cm2.
    length_cm : float
        Length from apex to mitral annulus in the same frame, cm.

    Returns
    -------
    float
        Volume, mL.

    Raises
    ------
    OutOfRange
        For an area outside 0.1 to 200 cm2 or a length outside 0.5 to 20 cm.

    Notes
    -----
    Exact for a prolate ellipsoid cut along its axis. A share of error in area counts twice, in
    length once with the other sign; the scale of the image counts three times.

    Sources: [lang2015].
    """
    require("area_cm2", area_cm2, 0.1, 200.0, SQUARE_CENTIMETRES)
    require("length_cm", length_cm, 0.5, 20.0, CENTIMETRES)
    return 8.0 / (3.0 * pi) * area_cm2**2 / length_cm


def bullet_volume(area_cm2: float, length_cm: float) -> float:
    r"""Volume of the left ventricle from a short-axis area and a length.

    .. math:: V = \frac{5}{6} A L

    Parameters
    ----------
    area_cm2 : float
        Cavity area in short axis at the papillary muscles, cm2.
    length_cm : float
        Length from apex to mitral annulus, cm.

    Returns
    -------
    float
        Volume, mL.

    Raises
    ------
    OutOfRange
        For an area outside 0.1 to 200 cm2 or a length outside 0.5 to 20 cm.

    Notes
    -----
    Holds for a cylinder closed by half an ellipsoid. Shares of error add in squares.

    Sources: [lang2015].
    """
    require("area_cm2", area_cm2, 0.1, 200.0, SQUARE_CENTIMETRES)
    require("length_cm", length_cm, 0.5, 20.0, CENTIMETRES)
    return 5.0 / 6.0 * area_cm2 * length_cm


def left_atrial_volume(four_cm2: float, two_cm2: float, length_cm: float) -> float:
    r"""Volume of the left atrium from two apical views.

    .. math:: V = \frac{8}{3\pi} \frac{A_4 A_2}{L}

    Parameters
    ----------
    four_cm2 : float
        Area in the four-chamber view, last frame before mitral opening, cm2.
    two_cm2 : float
        Area in the two-chamber view, same phase, cm2.
    length_cm : float
        The shorter of the two lengths, cm.

    Returns
    -------
    float
        Volume, mL.

    Raises
    ------
    OutOfRange
        For an area outside 0.1 to 200 cm2 or a length outside 0.2 to 20 cm.

    Notes
    -----
    Leave out auricle and veins. Shares of error add in squares.

    Sources: [hollmer2013].
    """
    require("four_cm2", four_cm2, 0.1, 200.0, SQUARE_CENTIMETRES)
    require("two_cm2", two_cm2, 0.1, 200.0, SQUARE_CENTIMETRES)
    require("length_cm", length_cm, 0.2, 20.0, CENTIMETRES)
    return 8.0 / (3.0 * pi) * four_cm2 * two_cm2 / length_cm


def volume_by_weight(volume_mL: float, weight_kg: float) -> float:
    r"""Volume for each kilogram of body weight.

    .. math:: V_i = \frac{V}{BW}

    Parameters
    ----------
    volume_mL : float
        Volume, mL.
    weight_kg : float
        Body weight, kg.

    Returns
    -------
    float
        Volume by weight, mL/kg.

    Raises
    ------
    OutOfRange
        For a volume outside 0 to 1500 mL or a weight outside 0.3 to 120 kg.

    Notes
    -----
    Shares of error add in squares.

    Sources: [hollmer2013].
    """
    require("volume_mL", volume_mL, 0.0, 1500.0, "Give millilitres.")
    require("weight_kg", weight_kg, 0.3, 120.0, "Is it in grams or pounds? Give kilograms.")
    return volume_mL / weight_kg


def volume_by_surface(volume_mL: float, bsa_m2: float) -> float:
    r"""Volume for each square metre of body surface.

    .. math:: V_i = \frac{V}{BSA}

    Parameters
    ----------
    volume_mL : float
        Volume of the ventricle, or the stroke volume, mL.
    bsa_m2 : float
        Body surface, m2.

    Returns
    -------
    float
        Volume index, mL/m2.

    Raises
    ------
    OutOfRange
        For a volume outside 0 to 1500 mL or a surface outside 0.03 to 3 m2.

    Notes
    -----
    Say the method of the volume with the number. A share of error in weight counts two thirds.

    Sources: [brown1991], [serres2008].
    """
    require("volume_mL", volume_mL, 0.0, 1500.0, "Give millilitres.")
    require("bsa_m2", bsa_m2, 0.03, 3.0, "Give square metres.")
    return volume_mL / bsa_m2
