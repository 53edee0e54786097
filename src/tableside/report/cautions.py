"""What is said wherever a person concludes from the numbers."""

from collections.abc import Sequence

from tableside.model import Reading

ALWAYS = (
    "This letter supports a licensed veterinarian and does not replace one.",
    "Reference limits are population limits: one healthy animal in ten or twenty lies outside "
    "them, and a sick one may lie inside.",
    "Grades and stages follow the cited guideline; local practice decides.",
    "No treatment dose is ever shown.",
    "Sedation and restraint change the numbers.",
)


def cautions(reading: Reading) -> tuple[str, ...]:
    """Return the standing cautions and those that this study calls for."""
    return ALWAYS + tuple(_of_this_study(reading))


def _of_this_study(reading: Reading) -> Sequence[str]:
    said = []
    visit, patient = reading.exam.visit, reading.exam.patient
    sedation = (visit.sedation or "").strip()
    if sedation and sedation.lower() not in ("none", "no"):
        said.append(f"The animal was sedated ({sedation}): compare only with such studies.")
    if not sedation:
        said.append("Whether the animal was sedated was not noted.")
    if patient.weight_kg is None:
        said.append(
            "No body weight was given: numbers that grow with the animal are not indexed."
        )
    if patient.species is None:
        said.append("The species was not given: no reference limits could be chosen.")
    lacking = [item for item in reading.protocol if item.state != "present"]
    if lacking:
        said.append(
            f"{len(lacking)} of {len(reading.protocol)} views of a complete study are missing "
            "or not credible; what they would show is not known."
        )
    return said
