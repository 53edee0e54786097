"""Does the body weight make sense? It is flagged and never corrected."""

from tableside.model import Patient, Species

POUNDS_PER_KG = 2.20462  # exact to six digits: 1 lb = 0.45359237 kg
SAME_SHARE = 0.04  # how near a ratio must be to 2.2 to look like pounds
DIFFERENT_SHARE = 0.10  # two weights further apart than this are said

# Adult limits in kg beyond which pounds or another animal are likelier; common practice,
# generous for fat animals.
_SPECIES_LIMITS = {Species.DOG: (0.5, 100.0), Species.CAT: (0.5, 12.0)}
_BREED_LIMITS = {
    "chihuahua": 8.0,
    "yorkshire terrier": 9.0,
    "pomeranian": 8.0,
    "maltese": 9.0,
    "toy poodle": 9.0,
    "papillon": 9.0,
    "miniature dachshund": 12.0,
    "dachshund": 18.0,
    "cavalier king charles spaniel": 18.0,
    "shih tzu": 14.0,
    "pug": 18.0,
    "miniature schnauzer": 16.0,
    "jack russell terrier": 14.0,
    "beagle": 28.0,
    "whippet": 25.0,
    "cocker spaniel": 28.0,
    "border collie": 35.0,
}


def weight_notes(
    patient: Patient, written_kg: float | None, stated_kg: float | None
) -> list[str]:
    """Return remarks on the weight.

    Parameters
    ----------
    patient : Patient
        With the weight that is used.
    written_kg, stated_kg : float, optional
        From the worksheet and from the images.
    """
    notes = []
    if written_kg is not None and stated_kg is not None:
        notes += _two_weights(written_kg, stated_kg)
    if patient.weight_kg is not None:
        notes += _one_weight(patient, patient.weight_kg)
    return notes


def _two_weights(written_kg: float, stated_kg: float) -> list[str]:
    ratio = max(written_kg, stated_kg) / min(written_kg, stated_kg)
    both = f"the worksheet says {written_kg:g} kg, the images say {stated_kg:g} kg"
    if abs(ratio / POUNDS_PER_KG - 1) <= SAME_SHARE:
        pounds = "worksheet's" if written_kg > stated_kg else "images'"
        return [
            f"{both}; the {pounds} number looks like pounds. The worksheet's was used: weigh "
            "again or correct it"
        ]
    if ratio > 1 + DIFFERENT_SHARE:
        return [f"{both}; the worksheet's was used"]
    return []


def _one_weight(patient: Patient, weight_kg: float) -> list[str]:
    low, high = _limits(patient)
    what = patient.breed or (patient.species.value if patient.species else "patient")
    if weight_kg > high:
        return [
            f"{weight_kg:g} kg is more than a {what} weighs; is it in pounds "
            f"({weight_kg / POUNDS_PER_KG:.1f} kg)? It was not corrected"
        ]
    if weight_kg < low:
        return [f"{weight_kg:g} kg is less than an adult {what} weighs: check it"]
    return []


def _limits(patient: Patient) -> tuple[float, float]:
    low, high = _SPECIES_LIMITS.get(patient.species or Species.DOG, (0.5, 100.0))
    breed = (patient.breed or "").casefold()
    known = [name for name in _BREED_LIMITS if name in breed]
    return (low, _BREED_LIMITS[max(known, key=len)]) if known else (low, high)
