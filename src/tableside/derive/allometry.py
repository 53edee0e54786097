"""Sizes freed of body weight by a published exponent."""

from tableside.errors import require

CENTIMETRES = "Is it in millimetres? Divide by 10."
KILOGRAMS = "Is it in grams or pounds? Give kilograms."


def allometric_index(size_cm: float, weight_kg: float, exponent: float) -> float:
    r"""Size freed of body weight by a published exponent.

    .. math:: x_N = \frac{x}{BW^{\,b}}

    Parameters
    ----------
    size_cm : float
        Diameter or thickness, cm.
    weight_kg : float
        Body weight, kg.
    exponent : float
        The published exponent b of this size.

    Returns
    -------
    float
        Size at 1 kg, cm/kg^b.

    Raises
    ------
    OutOfRange
        For a size outside 0 to 15 cm, a weight outside 0.3 to 120 kg, an exponent outside
        0.1 to 1.

    Notes
    -----
    Holds in adult animals inside the weights of the study that gave the exponent. A share of
    error in weight counts b times; the scale of the image counts in full. Left ventricle:
    0.294 and 0.315 [cornell2004] or 0.33 for both [rishniwbrown2022]; they part in small and
    giant dogs.

    Sources: [cornell2004], [rishniwbrown2022].
    """
    require("size_cm", size_cm, 0.0, 15.0, CENTIMETRES)
    require("weight_kg", weight_kg, 0.3, 120.0, KILOGRAMS)
    require("exponent", exponent, 0.1, 1.0, "Take the exponent of the publication.")
    return float(size_cm / weight_kg**exponent)


def annular_excursion_index(excursion_mm: float, weight_kg: float, exponent: float) -> float:
    r"""Excursion of an annulus freed of body weight by a published exponent.

    .. math:: x_N = \frac{TAPSE}{BW^{\,b}}

    Parameters
    ----------
    excursion_mm : float
        Systolic excursion of the tricuspid annulus, mm, M-mode from the left apex.
    weight_kg : float
        Body weight, kg.
    exponent : float
        The published exponent b.

    Returns
    -------
    float
        Excursion at 1 kg, mm/kg^b.

    Raises
    ------
    OutOfRange
        For an excursion outside 0 to 50 mm, a weight outside 0.3 to 120 kg, an exponent outside
        0.1 to 1.

    Notes
    -----
    Holds while the beam runs along the excursion. A share of error in weight counts b times.
    The exponent 0.285 is that of 211 healthy dogs.

    Sources: [feldhutter2022].
    """
    require("excursion_mm", excursion_mm, 0.0, 50.0, "Is it in centimetres? Multiply by 10.")
    require("weight_kg", weight_kg, 0.3, 120.0, KILOGRAMS)
    require("exponent", exponent, 0.1, 1.0, "Take the exponent of the publication.")
    return float(excursion_mm / weight_kg**exponent)
