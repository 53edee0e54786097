"""Flow: what passes the valves in a beat and in a minute."""

from math import pi

from tableside.errors import require

CENTIMETRES = "Is it in millimetres? Divide by 10."


def cross_section(diameter_cm: float) -> float:
    r"""Area of a round outflow tract.

    .. math:: CSA = \frac{\pi}{4} D^2

    Parameters
    ----------
    diameter_cm : float
        Diameter at the hinges of the valve, inner edges, mid-systole, cm.

    Returns
    -------
    float
        Area, cm2.

    Raises
    ------
    OutOfRange
        Outside 0.2 to 6 cm.

    Notes
    -----
    A share of error in the diameter counts twice: it is the weak link of every flow.

    Sources: [quinones2002].
    """
    require("diameter_cm", diameter_cm, 0.2, 6.0, CENTIMETRES)
    return pi / 4.0 * diameter_cm**2


def stroke_volume(diameter_cm: float, vti_cm: float) -> float:
    r"""Volume that passes the outflow tract in one beat.

    .. math:: SV = \frac{\pi}{4} D^2 \, VTI

    Parameters
    ----------
    diameter_cm : float
        Diameter at the hinges of the valve, inner edges, mid-systole, cm.
    vti_cm : float
        Velocity-time integral of the flow at the same place, cm.

    Returns
    -------
    float
        Stroke volume, mL.

    Raises
    ------
    OutOfRange
        For a diameter outside 0.2 to 6 cm or an integral outside 0.5 to 150 cm.

    Notes
    -----
    Holds while diameter and spectrum stand at one level, and no narrowing speeds the flow.
    :math:`CV^2 = (2 CV_D)^2 + CV_{VTI}^2`.

    Sources: [brown1991].
    """
    require("vti_cm", vti_cm, 0.5, 150.0, "Is it in metres? Multiply by 100.")
    return cross_section(diameter_cm) * vti_cm


def cardiac_output(stroke_mL: float, rate_per_min: float) -> float:
    r"""Volume that passes the outflow tract in one minute.

    .. math:: CO = \frac{SV \cdot HR}{1000}

    Parameters
    ----------
    stroke_mL : float
        Stroke volume, mL.
    rate_per_min : float
        Heart rate over the same beats, beats/min.

    Returns
    -------
    float
        Cardiac output, L/min.

    Raises
    ------
    OutOfRange
        For a stroke volume outside 0.05 to 300 mL or a rate outside 20 to 350 beats/min.

    Notes
    -----
    Shares of error add in squares.

    Sources: [brown1991].
    """
    require("stroke_mL", stroke_mL, 0.05, 300.0, "Give millilitres.")
    require("rate_per_min", rate_per_min, 20.0, 350.0, "Give beats a minute.")
    return stroke_mL * rate_per_min / 1000.0


def cardiac_index(output_L_min: float, bsa_m2: float) -> float:
    r"""Cardiac output for each square metre of body surface.

    .. math:: CI = \frac{CO}{BSA}

    Parameters
    ----------
    output_L_min : float
        Cardiac output, L/min.
    bsa_m2 : float
        Body surface, m2.

    Returns
    -------
    float
        Cardiac index, L/min/m2.

    Raises
    ------
    OutOfRange
        For an output outside 0.01 to 30 L/min or a surface outside 0.03 to 3 m2.

    Notes
    -----
    A share of error in weight counts two thirds.

    Sources: [brown1991].
    """
    require("output_L_min", output_L_min, 0.01, 30.0, "Is it in mL/min? Divide by 1000.")
    require("bsa_m2", bsa_m2, 0.03, 3.0, "Give square metres.")
    return output_L_min / bsa_m2


def continuity_area(area_cm2: float, vti_cm: float, narrow_vti_cm: float) -> float:
    r"""Area of a narrowed valve, from the flow before it.

    .. math:: A_2 = \frac{A_1 \, VTI_1}{VTI_2}

    Parameters
    ----------
    area_cm2 : float
        Area before the valve, cm2.
    vti_cm : float
        Velocity-time integral before the valve, cm.
    narrow_vti_cm : float
        Velocity-time integral through the valve, cm.

    Returns
    -------
    float
        Effective area of the valve, cm2.

    Raises
    ------
    OutOfRange
        For an area outside 0.03 to 30 cm2, an integral before the valve outside 0.5 to 150 cm,
        or one through it that is smaller or above 400 cm.

    Notes
    -----
    Holds when both flows belong to the same beats. Shares of error add in squares.

    Sources: [quinones2002].
    """
    require("area_cm2", area_cm2, 0.03, 30.0, "Is it in mm2? Divide by 100.")
    require("vti_cm", vti_cm, 0.5, 150.0, "Is it in metres? Multiply by 100.")
    hint = "Flow is fastest in the narrow place: are the two swapped?"
    require("narrow_vti_cm", narrow_vti_cm, vti_cm, 400.0, hint)
    return area_cm2 * vti_cm / narrow_vti_cm


def shunt_ratio(lung_mL: float, body_mL: float) -> float:
    r"""Flow of the lungs over flow of the body.

    .. math:: \frac{Q_p}{Q_s} = \frac{D_{RVOT}^2 VTI_{RVOT}}{D_{LVOT}^2 VTI_{LVOT}}

    Parameters
    ----------
    lung_mL : float
        Stroke volume through the right outflow tract, mL (left outflow tract with a duct).
    body_mL : float
        Stroke volume through the left outflow tract, mL (right outflow tract with a duct).

    Returns
    -------
    float
        Ratio.

    Raises
    ------
    OutOfRange
        For a stroke volume outside 0.05 to 300 mL.

    Notes
    -----
    Both diameters count twice, so it is a coarse number.

    Sources: [quinones2002].
    """
    require("lung_mL", lung_mL, 0.05, 300.0, "Give millilitres.")
    require("body_mL", body_mL, 0.05, 300.0, "Give millilitres.")
    return lung_mL / body_mL
