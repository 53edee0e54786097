"""One model of the whole examination: fit it, ask it, and let it name the odd one out."""

from tableside.credibility.exam_model.checks import fault_checks, merge
from tableside.credibility.exam_model.fit import fit
from tableside.credibility.exam_model.posterior import FaultPosterior, Posterior
from tableside.credibility.exam_model.settings import FitOptions

__all__ = ["FaultPosterior", "FitOptions", "Posterior", "fault_checks", "fit", "merge"]
