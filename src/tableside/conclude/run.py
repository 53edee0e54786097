"""All guidelines over one examination, in the order a letter tells them."""

from collections.abc import Callable, Sequence

from tableside.conclude import (
    congestion,
    diastolic_function,
    dilated_cardiomyopathy,
    feline_cardiomyopathy,
    mitral_score,
    mitral_stage,
    outflow_stenosis,
    pulmonary_hypertension,
    systolic_function,
    trial_criteria,
)
from tableside.model import Check, Exam, Finding

GUIDELINES: tuple[Callable[[Exam, Sequence[Check]], Finding | None], ...] = (
    mitral_stage.conclude,
    mitral_score.conclude,
    trial_criteria.conclude,
    dilated_cardiomyopathy.screen,
    dilated_cardiomyopathy.criteria_2003,
    feline_cardiomyopathy.phenotype,
    feline_cardiomyopathy.atrium,
    outflow_stenosis.conclude_aortic,
    outflow_stenosis.conclude_pulmonic,
    pulmonary_hypertension.conclude,
    systolic_function.conclude,
    diastolic_function.conclude,
    congestion.conclude,
)


def findings(exam: Exam, checks: Sequence[Check] = ()) -> tuple[Finding, ...]:
    """Apply every guideline that is made for this animal and has something to go by.

    Parameters
    ----------
    exam : Exam
        Measurements and indices, with patient and visit.
    checks : sequence of Check
        What the laws found; a number that one of them calls unusable is named in a caution.

    Returns
    -------
    tuple of Finding
        A class is given only where no input is missing.
    """
    if exam.patient.species is None:
        return _without_species(exam)
    found = (conclude(exam, checks) for conclude in GUIDELINES)
    return tuple(one for one in found if one is not None)


def _without_species(exam: Exam) -> tuple[Finding, ...]:
    if not exam.measurements and not exam.indices:
        return ()
    return (
        Finding(
            id="species",
            title="Guidelines",
            statement="No guideline was applied: the species was not entered.",
            source="",
            missing=("species",),
        ),
    )
