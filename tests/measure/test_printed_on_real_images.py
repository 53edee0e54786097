"""Stored images that print their own measurement: the caliper must give the printed value.

Points were read off the drawn marks, in pixel centres. The allowance is one pixel of the mark
and half the last printed digit. Source of every expected value: the screen itself.
"""

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest
from pydicom.data import get_testdata_file

from tableside.intake import open_study
from tableside.measure.calipers import caliper_measurements
from tableside.model import Measurement, Rejected


@dataclass(frozen=True)
class Mark:
    """A caliper on a stored image, and what the screen prints for it."""

    file: str
    quantity: str
    points: list[list[float]]
    printed: float
    allowed: float


EXAMPLES = [
    Mark("JPGLosslessP14SV1_1s_1f_8b.dcm", "Ao", [[629, 319], [689, 435]], 3.3, 0.026 + 0.05),
    Mark("OBXXXX1A.dcm", "Ao", [[459.5, 290.5], [498.5, 301.5]], 1.06, 0.026 + 0.005),
]
TRACINGS = [
    # 20 cm/s stands at row 240, above the baseline at row 352
    Mark("I_000038.dcm", "S'", [[300, 240]], 0.20, 0.0018 + 0.0005),
    # a time caliper prints 0.238 s
    Mark("I_000039.dcm", "ET", [[247, 300], [304, 300]], 238.0, 4.2 + 0.5),
    # R peaks on a time axis whose ticks agree with the header: 49.9/min computed
    Mark("I_000034.dcm", "HR", [[187, 460], [475.5, 460]], 49.9, 0.2),
]


def measured(
    mark: Mark, path: Path, folder: Path
) -> tuple[tuple[Measurement, ...], tuple[Rejected, ...]]:
    """Open one file with one caliper in its worksheet."""
    shutil.copy(path, folder / mark.file)
    (folder / "worksheet.toml").write_text(
        f'[[caliper]]\nquantity = "{mark.quantity}"\nfile = "{mark.file}"\n'
        f"frame = 0\npoints = {[[float(x), float(y)] for x, y in mark.points]}\n",
        encoding="utf-8",
    )
    with open_study(folder) as opened:
        return caliper_measurements(opened.study)


def example(name: str) -> Path:
    path = get_testdata_file(name)
    assert isinstance(path, str)
    return Path(path)


@pytest.mark.parametrize("mark", EXAMPLES, ids=lambda mark: mark.file)
def test_a_length_of_an_example_file_is_as_printed(mark: Mark, tmp_path: Path) -> None:
    (found,), rejected = measured(mark, example(mark.file), tmp_path)
    assert rejected == ()
    assert found.value == pytest.approx(mark.printed, abs=mark.allowed)


@pytest.mark.parametrize("mark", TRACINGS, ids=lambda mark: f"{mark.file} {mark.quantity}")
def test_a_real_tracing_gives_what_it_prints(
    mark: Mark, tmp_path: Path, shared_data: Path
) -> None:
    (found,), rejected = measured(mark, shared_data / "human-echo" / mark.file, tmp_path)
    assert rejected == ()
    assert found.value == pytest.approx(mark.printed, abs=mark.allowed)


def test_an_image_that_was_shrunk_without_its_scale_is_refused(tmp_path: Path) -> None:
    # pydicom examples_ybr_color.dcm: 320 x 240 pixels, a region up to column 595
    mark = Mark("examples_ybr_color.dcm", "LVIDd", [[150, 60], [150, 160]], 0.0, 0.0)
    found, rejected = measured(mark, example(mark.file), tmp_path)
    assert found == ()
    assert rejected[0].reason.startswith("caliper LVIDd: the scale of this image is in doubt")
