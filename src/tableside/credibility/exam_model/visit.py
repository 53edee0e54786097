"""The constants for one visit: species, sedation, ascites and heart failure shift them."""

from collections.abc import Mapping

from tableside.credibility.exam_model.settings import Constants, FitOptions, constants
from tableside.model import Exam, Species

NOT_SEDATED = {"", "none", "no", "unsedated", "not sedated"}


def visit_constants(exam: Exam, options: FitOptions) -> Constants:
    """Return the constants that hold for the animal of this exam on this day."""
    p = dict(constants(exam.patient.species, options))
    visit = exam.visit
    is_awake = (visit.sedation or "none").strip().lower() in NOT_SEDATED
    p["SBP.now_mmHg"] = p["SBP.centre_mmHg" if is_awake else "SBP.sedated_mmHg"]
    p["SBP.now_sd_mmHg"] = p["SBP.sd_mmHg.sd" if is_awake else "SBP.sedated_sd_mmHg.sd"]
    p["LAP.now_mmHg"] = p["LAP.failure_mmHg" if visit.has_heart_failure else "LAP.centre_mmHg"]
    p["RAP.now_mmHg"] = p["RAP.ascites_mmHg" if visit.ascites else "RAP.centre_mmHg"]
    return p


def neutral_constants(species: Species = Species.DOG) -> Mapping[str, float]:
    """Return the constants of a dog awake and without signs."""
    from tableside.model import Patient, Study  # noqa: PLC0415

    exam = Exam(study=Study(patient=Patient(species=species)))
    return visit_constants(exam, FitOptions())
