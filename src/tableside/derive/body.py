"""Body surface, by which flows and volumes are compared between animals."""

from tableside.errors import require

KILOGRAMS = "Is it in grams or pounds? Give kilograms."


def dog_body_surface(weight_kg: float) -> float:
    r"""Body surface of a dog.

    .. math:: BSA = 0.101 \, BW^{2/3}

    Parameters
    ----------
    weight_kg : float
        Body weight, kg.

    Returns
    -------
    float
        Body surface, m2.

    Raises
    ------
    OutOfRange
        Outside 0.3 to 120 kg.

    Notes
    -----
    A share of error in weight counts two thirds.

    Sources: [price1998].
    """
    require("weight_kg", weight_kg, 0.3, 120.0, KILOGRAMS)
    return float(0.101 * weight_kg ** (2 / 3))


def cat_body_surface(weight_kg: float) -> float:
    r"""Body surface of a cat.

    .. math:: BSA = 0.100 \, BW^{2/3}

    Parameters
    ----------
    weight_kg : float
        Body weight, kg.

    Returns
    -------
    float
        Body surface, m2.

    Raises
    ------
    OutOfRange
        Outside 0.3 to 20 kg.

    Notes
    -----
    A share of error in weight counts two thirds.

    Sources: [price1998].
    """
    require("weight_kg", weight_kg, 0.3, 20.0, KILOGRAMS)
    return float(0.100 * weight_kg ** (2 / 3))


def mass_by_weight(mass_g: float, weight_kg: float) -> float:
    r"""Mass of the left ventricle for each kilogram of body weight.

    .. math:: \frac{m}{BW}

    Parameters
    ----------
    mass_g : float
        Mass of the left ventricle, g.
    weight_kg : float
        Body weight, kg.

    Returns
    -------
    float
        Mass by weight, g/kg.

    Raises
    ------
    OutOfRange
        For a mass outside 0.3 to 1500 g or a weight outside 0.3 to 120 kg.

    Notes
    -----
    No interval for dogs is agreed on: shown, not judged. Shares of error add in squares.

    Sources: [devereux1986].
    """
    require("mass_g", mass_g, 0.3, 1500.0, "Give grams.")
    require("weight_kg", weight_kg, 0.3, 120.0, KILOGRAMS)
    return mass_g / weight_kg
