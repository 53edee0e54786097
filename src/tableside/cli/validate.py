"""`tableside validate`: the exam model against examinations whose truth is known."""

from collections.abc import Iterable

import numpy as np
from rich.console import Console
from rich.table import Table

from tableside.credibility.exam_model.calibration import (
    LARGEST_CHI2,
    CalibrationRun,
    calibrate,
    change_with_spreads,
)
from tableside.credibility.exam_model.injection import FAULTS, Injection, inject
from tableside.credibility.exam_model.settings import FitOptions, constants
from tableside.credibility.exam_model.simulate import WORLDS
from tableside.credibility.exam_model.templates import TEMPLATES
from tableside.errors import NotFound
from tableside.model import Species

KINDS = ("calibration", "misspecified", "faults", "spreads")
OWN, UNLIKE = (0.88, 0.92), 0.80
SENSITIVITY, FALSE_ALARMS = 0.9, 0.05
LARGEST_CHANGE = 0.10


def run(kind: str = "calibration", simulations: int = 300, seed: int = 1) -> None:
    """Simulate, fit and print what was found.

    Parameters
    ----------
    kind : str
        ``calibration``: ranks and coverage in the model's own world. ``misspecified``: the
        same in worlds unlike it. ``faults``: faults put into clean exams. ``spreads``: how far
        a stage moves when every prior spread changes by half.
    simulations : int
        Examinations a table; a thousand takes about two minutes.
    seed : int
        The same seed gives the same table, but for the times.
    """
    if kind not in KINDS:
        raise NotFound(f"no validation {kind!r}; there are {', '.join(KINDS)}")
    console = Console(soft_wrap=True)
    if kind == "faults":
        for name in TEMPLATES:
            _print_injection(console, inject(name, max(simulations // len(TEMPLATES), 1), seed))
    elif kind == "spreads":
        _print_spreads(console, simulations, seed)
    else:
        worlds = WORLDS[:1] if kind == "calibration" else WORLDS[1:]
        for world in worlds:
            _print_calibration(console, calibrate(world, simulations, seed))


def _print_calibration(console: Console, found: CalibrationRun) -> None:
    is_own = found.world == WORLDS[0].name
    wanted = f"{OWN[0]} to {OWN[1]}" if is_own else f"at least {UNLIKE}"
    shown = Table(
        title=f"World: {found.world}. Median fit {found.median_ms:.0f} ms, worth "
        f"{found.effective_draws[1]:.0f} draws (worst of 100: {found.effective_draws[0]:.0f})."
    )
    for head in (
        "quantity",
        "n",
        f"90 % interval holds ({wanted})",
        "chi2 of ranks",
        "bias, sd",
    ):
        shown.add_column(head)
    for row in found.rows:
        chi2 = f"{row.chi2:.1f}{' !' if is_own and row.chi2 > LARGEST_CHI2 else ''}"
        held = f"{row.coverage:.3f}{'' if _is_fine(row.coverage, is_own) else ' !'}"
        shown.add_row(row.name, str(row.simulations), held, chi2, f"{row.bias_sd:+.2f}")
    console.print(shown)


def _is_fine(coverage: float, is_own: bool) -> bool:
    return OWN[0] <= coverage <= OWN[1] if is_own else coverage >= UNLIKE


def _print_injection(console: Console, found: Injection) -> None:
    threshold = constants(Species.DOG, FitOptions())["card.doubtful"]
    shown = Table(title=f"{found.template}: faults found (threshold {threshold:g})")
    at_most = f"found at {FALSE_ALARMS} false alarms"
    for head in ("fault", "n material", "found", f"{at_most} (wanted {SENSITIVITY})", "median"):
        shown.add_column(head)
    for fault in FAULTS:
        if fault.name in found.found and found.is_material[fault.name].any():
            share = found.sensitivity_at(fault.name, fault.reading, FALSE_ALARMS)
            shown.add_row(
                fault.name,
                str(int(found.is_material[fault.name].sum())),
                f"{found.sensitivity(fault.name, threshold):.2f}",
                f"{share:.2f}{'' if share >= SENSITIVITY else ' !'}",
                f"{np.median(found.found[fault.name]):.2f}",
            )
    console.print(shown)
    alarms = Table(title=f"{found.template}: false alarms of clean exams")
    for head in ("reading", "n", f"doubted (allowed {FALSE_ALARMS})"):
        alarms.add_column(head)
    for reading, values in found.clean.items():
        share = found.false_alarms(reading, threshold)
        mark = "" if share <= FALSE_ALARMS else " !"
        alarms.add_row(reading, str(len(values)), f"{share:.3f}{mark}")
    console.print(alarms)


def _print_spreads(console: Console, simulations: int, seed: int) -> None:
    shown = Table(title="How far the probability of B2 moves when every prior spread changes")
    for head in ("spreads", "n", "median", "90th percentile", "largest", "share under 0.10"):
        shown.add_column(head)
    for factor in (0.5, 1.5):
        moved = change_with_spreads(simulations, seed, factor)
        shown.add_row(f"x {factor:g}", str(len(moved)), *_shares(moved))
    console.print(shown)


def _shares(moved: Iterable[float]) -> tuple[str, ...]:
    values = np.array(list(moved))
    figures = (np.median(values), np.percentile(values, 90), values.max())
    return (*(f"{one:.3f}" for one in figures), f"{(values < LARGEST_CHANGE).mean():.2f}")
