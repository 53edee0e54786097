"""A whole study with known truth: stored images, the worksheet, and the truth beside them."""

import datetime as dt
from pathlib import Path

from tableside.phantom.demo import SEED, demo_spec
from tableside.phantom.dicom_file import Examination, write_object
from tableside.phantom.study_images import pictures
from tableside.phantom.study_spec import JetSpec, StudySpec
from tableside.phantom.worksheet import toml_table, worksheet

__all__ = ["JetSpec", "StudySpec", "demo_study", "make_study", "write_study"]


def make_study(folder: Path, spec: StudySpec, seed: int) -> dict[str, float]:
    """Write a study into ``folder`` and its truth into a TOML file beside the folder.

    Returns
    -------
    dict
        The true value of each quantity as displayed, in the units of the catalogue;
        ``<quantity> true`` where the beam's angle hides a part of it.

    Notes
    -----
    The truth file is ``<folder>-truth.toml``, so that a reader of the folder never sees it.
    """
    truth = write_study(folder, spec, seed)
    beside = folder.with_name(f"{folder.name}-truth.toml")
    beside.write_text(toml_table("truth", truth), encoding="utf-8")
    return truth


def write_study(folder: Path, spec: StudySpec, seed: int) -> dict[str, float]:
    """Write images and worksheet into ``folder`` and return the truth."""
    folder.mkdir(parents=True, exist_ok=True)
    date = spec.visit.date or dt.date(2026, 1, 1)
    exam = Examination(
        patient=spec.dog,
        start=dt.datetime.combine(date, dt.time(10, 5)),
        clinic=spec.clinic,
        seed=seed,
    )
    truth: dict[str, float] = {}
    made = []
    for picture in pictures(spec, seed):
        write_object(folder / picture.file, picture.screen, exam, picture.stored)
        truth |= {name: value for name, value in picture.truth.items() if name not in truth}
        made.append(picture.labels)
    text = worksheet(spec.dog, spec.visit, made)
    (folder / "worksheet.toml").write_text(text, encoding="utf-8")
    return truth


def demo_study(folder: Path) -> None:
    """Write the demo study into ``folder``: eleven images and a worksheet."""
    write_study(folder, demo_spec(), SEED)
