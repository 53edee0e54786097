"""The exam model: time of a fit, no failure in many, and the same answer as a general sampler.

The general sampler is emcee (affine-invariant ensemble, Foreman-Mackey and others 2013), run
on the same posterior density; it is needed by this benchmark alone.
"""

import sys
import time
import warnings
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from benchmarks.line import Line
from tableside.credibility.exam_model import FitOptions, fit
from tableside.credibility.exam_model.heart import heart
from tableside.credibility.exam_model.observations import observe
from tableside.credibility.exam_model.problem import Problem
from tableside.credibility.exam_model.simulate import WORLDS, read_as, simulate
from tableside.credibility.exam_model.tables import table
from tableside.credibility.exam_model.templates import TEMPLATES, template
from tableside.credibility.exam_model.visit import visit_constants
from tableside.model import Exam

EIGHT = {"LVIDd": 3.6, "LVIDs": 2.1, "IVSd": 0.75, "LVPWd": 0.78, "LA": 2.8, "Ao": 1.7}
WALKERS, STEPS, BURNT = 128, 10_000, 3000
PLAIN_MS, FAULTS_MS = 50.0, 200.0
LARGEST_Z = 4.0
COMPARED = ("LVIDd", "LA:Ao", "LVIDDN", "FS", "SBP", "LAP", "RF", "MR_Vmax")


def eight_observations(jet_m_s: float) -> Exam:
    """Return an exam of six lengths, a mitral jet and a cuff series, and a weight."""
    base = template("mitral recheck")
    kept = [one for one in base.measurements if one.quantity not in ("E", "A")]
    return read_as(replace(base, measurements=tuple(kept)), {**EIGHT, "MR_Vmax": jet_m_s})


def run(quick: bool) -> Iterator[Line]:
    """Yield the figures of the exam model."""
    yield from _times(5 if quick else 41)
    yield _many(100 if quick else 10_000)
    if not quick:
        for jet_m_s in (5.4, 4.6):
            yield from _against_emcee(eight_observations(jet_m_s), f"jet {jet_m_s} m/s")


def _times(repeats: int) -> Iterator[Line]:
    """Processor time, so that what else the machine does counts little."""
    exams = [eight_observations(jet) for jet in np.linspace(3.5, 6.0, repeats)]
    for name, options, limit in (
        ("fit of eight observations, no faults", FitOptions(faults=False), PLAIN_MS),
        ("fit of eight observations with the fault search", FitOptions(), FAULTS_MS),
    ):
        took = []
        fit(exams[0], options=options)
        for exam in exams:
            started = time.process_time()
            fit(exam, options=options)
            took.append(1e3 * (time.process_time() - started))
        median = float(np.median(took))
        yield Line(name, f"{median:.0f} ms", f"limit {limit:.0f} ms", median <= limit)


def _many(count: int) -> Line:
    """Fit simulated exams of every template and world, with warnings as errors."""
    rng = np.random.default_rng(0)
    names, bad = list(TEMPLATES), 0
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for nth in range(count):
            world = WORLDS[nth % len(WORLDS)]
            weight_kg = float(np.exp(rng.uniform(np.log(0.4), np.log(120.0))))
            made = simulate(template(names[nth % len(names)], weight_kg), world, rng)
            bad += not _is_sound(made.exam)
    return Line(f"{count} simulated exams", f"{bad} failed", "limit 0", bad == 0)


def _is_sound(exam: Exam) -> bool:
    try:
        found = fit(exam)
    except (ArithmeticError, ValueError, Warning, np.linalg.LinAlgError) as error:
        print(f"  {type(error).__name__}: {error}", file=sys.stderr)
        return False
    return all(bool(np.isfinite(values).all()) for values in found.draws.values())


def _against_emcee(exam: Exam, what: str) -> Iterator[Line]:
    import emcee  # noqa: PLC0415  needed here alone
    from scipy.optimize import minimize  # noqa: PLC0415

    p = visit_constants(exam, FitOptions())
    observations, _ = observe(exam, p)
    tables = tuple(table(one, p, True) for one in observations)
    problem = Problem(observations, tables, p, True)

    def log_density(u: np.ndarray) -> np.ndarray:
        return problem.log_density(u, problem.expected(u))

    peak = minimize(lambda u: -float(log_density(u[None])[0]), np.zeros(problem.size)).x
    np.random.seed(1)  # emcee draws from the global generator
    start = peak + 0.1 * np.random.standard_normal((WALKERS, problem.size))
    moves = emcee.moves.DEMove()  # the snooker move is left out: its spreads came out small
    sampler = emcee.EnsembleSampler(
        WALKERS, problem.size, log_density, vectorize=True, moves=moves
    )
    sampler.run_mcmc(start, STEPS)
    chain = sampler.get_chain(discard=BURNT)
    flat = chain.reshape(-1, problem.size)
    state = heart(problem.full(flat), p)
    found = fit(exam, options=FitOptions(worth=4000, most_rounds=20))
    for name in COMPARED:
        values = state[name].reshape(chain.shape[:2])
        yield _compared(f"{what}: {name}", values, (found.mean(name), found.sd(name)),
                        found.effective_draws)  # fmt: skip


def _compared(what: str, values: np.ndarray, ours: tuple[float, float], worth: float) -> Line:
    import emcee  # noqa: PLC0415

    tau = float(emcee.autocorr.integrated_time(values[:, :, None], quiet=True)[0])
    mean, sd = float(values.mean()), float(values.std())
    error = sd * (tau / values.size + 1 / worth) ** 0.5
    z = (ours[0] - mean) / error
    is_fine = abs(z) < LARGEST_Z and abs(ours[1] / sd - 1) < 0.1
    return Line(
        what,
        f"{ours[0]:.4g} ± {ours[1]:.3g}",
        f"emcee {mean:.4g} ± {sd:.3g} (z {z:+.1f})",
        is_fine,
    )


if __name__ == "__main__":
    for line in run("--quick" in sys.argv):
        mark = "" if line.ok else "  PAST"
        print(f"{line.what:58} {line.measured:>18} {line.beside:>34}{mark}")
