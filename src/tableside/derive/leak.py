"""Leaks: how large the opening is and how much goes back."""

from math import pi

from tableside.errors import require


def proximal_surface_flow(radius_cm: float, aliasing_cm_s: float) -> float:
    r"""Flow through a half sphere of equal speed before a leak.

    .. math:: Q = 2 \pi r^2 v_a

    Parameters
    ----------
    radius_cm : float
        Radius from the orifice to the aliasing edge, cm.
    aliasing_cm_s : float
        Aliasing speed of the colour map towards the leak, cm/s.

    Returns
    -------
    float
        Peak flow, mL/s.

    Raises
    ------
    OutOfRange
        For a radius outside 0 to 3 cm or a speed outside 5 to 150 cm/s.

    Notes
    -----
    Holds for a flat, free orifice and a half sphere. A share of error in radius counts twice.

    Sources: [kittlesonbrown2003].
    """
    require("radius_cm", radius_cm, 0.0, 3.0, "Is it in millimetres? Divide by 10.")
    require("aliasing_cm_s", aliasing_cm_s, 5.0, 150.0, "Is it in m/s? Multiply by 100.")
    return 2.0 * pi * radius_cm**2 * aliasing_cm_s


def orifice_area(flow_mL_s: float, jet_cm_s: float) -> float:
    r"""Effective area of a leak, from its peak flow and peak speed.

    .. math:: EROA = \frac{Q}{v_{max}}

    Parameters
    ----------
    flow_mL_s : float
        Peak flow, mL/s.
    jet_cm_s : float
        Peak speed of the jet, cm/s.

    Returns
    -------
    float
        Effective regurgitant orifice area, cm2.

    Raises
    ------
    OutOfRange
        For a flow outside 0 to 2000 mL/s or a jet outside 50 to 900 cm/s.

    Notes
    -----
    Holds when both peaks come at the same moment. Shares of error add in squares.

    Sources: [kittlesonbrown2003].
    """
    require("flow_mL_s", flow_mL_s, 0.0, 2000.0, "Give mL/s.")
    require("jet_cm_s", jet_cm_s, 50.0, 900.0, "Is it in m/s? Multiply by 100.")
    return flow_mL_s / jet_cm_s


def volume_through(area_cm2: float, vti_cm: float) -> float:
    r"""Volume that passes an opening in one beat.

    .. math:: V = A \cdot VTI

    Parameters
    ----------
    area_cm2 : float
        Area of the opening, cm2.
    vti_cm : float
        Velocity-time integral of the flow through it, cm.

    Returns
    -------
    float
        Volume, mL.

    Raises
    ------
    OutOfRange
        For an area outside 0 to 50 cm2 or an integral outside 0 to 400 cm.

    Notes
    -----
    Shares of error add in squares.

    Sources: [quinones2002], [kittlesonbrown2003].
    """
    require("area_cm2", area_cm2, 0.0, 50.0, "Is it in mm2? Divide by 100.")
    require("vti_cm", vti_cm, 0.0, 400.0, "Is it in metres? Multiply by 100.")
    return area_cm2 * vti_cm


def regurgitant_volume(edv_mL: float, esv_mL: float, forward_mL: float) -> float:
    r"""Volume that goes back through the mitral valve, by difference.

    .. math:: RVol = (EDV - ESV) - SV_{Ao}

    Parameters
    ----------
    edv_mL : float
        Left ventricular volume at end diastole, mL.
    esv_mL : float
        The same at end systole, mL.
    forward_mL : float
        Stroke volume through the aorta, mL, by Doppler.

    Returns
    -------
    float
        Regurgitant volume, mL.

    Raises
    ------
    OutOfRange
        When the ventricle moves less than the aorta carries, or systole is larger than
        diastole.

    Notes
    -----
    A difference of two large numbers: errors add while the number shrinks. Volumes from an
    outline read small, so the result reads low. Not for a leaking aortic valve or a shunt.

    Sources: [acvim2023mr].
    """
    require("edv_mL", edv_mL, 0.01, 1500.0, "Give millilitres.")
    require("esv_mL", esv_mL, 0.0, edv_mL, "Systole cannot be larger: are the two swapped?")
    hint = "The aorta cannot carry more than the ventricle moves: check both volumes."
    require("forward_mL", forward_mL, 0.0, edv_mL - esv_mL, hint)
    return edv_mL - esv_mL - forward_mL


def regurgitant_fraction(regurgitant_mL: float, forward_mL: float) -> float:
    r"""Share of the stroke of the left ventricle that goes back.

    .. math:: RF = 100 \, \frac{RVol}{RVol + SV_{Ao}}

    Parameters
    ----------
    regurgitant_mL : float
        Regurgitant volume, mL.
    forward_mL : float
        Stroke volume through the aorta, mL.

    Returns
    -------
    float
        Regurgitant fraction, %.

    Raises
    ------
    OutOfRange
        For a volume outside 0 (forward: 0.01) to 1500 mL.

    Notes
    -----
    Values by volumes and by the proximal surface are not interchangeable. Errors of both
    volumes count; the forward one with both signs.

    Sources: [acvim2023mr], [kittlesonbrown2003].
    """
    require("regurgitant_mL", regurgitant_mL, 0.0, 1500.0, "Give millilitres.")
    require("forward_mL", forward_mL, 0.01, 1500.0, "Give millilitres.")
    return 100.0 * regurgitant_mL / (regurgitant_mL + forward_mL)
