"""Real tracings beside the checkout, with what they print or what was measured on them by eye.

Their values stand in the note that lies with the files. Skipped when the folder is absent.
"""

from dataclasses import replace
from pathlib import Path

from PIL import Image as Picture
from PIL import ImageDraw

from benchmarks.accuracy.case import Pixels
from tableside.automatic.doppler import measure_spectrum
from tableside.automatic.ecg import read_ecg
from tableside.automatic.mmode import measure_mmode
from tableside.intake import open_study
from tableside.model import Image, Measurement, Mode, Trace

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "data"
# file, what it is called, heart rate in beats/min, printed or by R peaks marked by eye
RATES = (
    ("human-echo/I_000001.dcm", "child, 2-D, ECG below", 117.4),
    ("human-echo/I_000034.dcm", "M-mode, R peaks at columns 187 and 475.5", 49.9),
    ("pig-mmode/vivid7_pig_colour_mmode.dcm", "pig, colour M-mode", 96.3),
)
LABELLED = (
    ("human-echo/I_000034.dcm", "mitral valve"),
    ("human-echo/I_000038.dcm", "mitral annulus septal"),
    ("human-echo/I_000039.dcm", "mitral annulus lateral"),
)
LIMIT = 1.0  # percent of a rate


def print_real(folder: Path | None) -> None:
    """Print the heart rates beside the true ones, and what the labelled tracings give."""
    if not FOLDER.is_dir():
        print("\nreal tracings: skipped, the folder shared/data is absent")
        return
    print("\nReal tracings: heart rate")
    for file, what, true in RATES:
        print(f"  {what:42} {_rate(file, true)}")
    print("Real tracings: no value is printed on them; look at the traces (--sheet)")
    for file, label in LABELLED:
        image, pixels = _open(file)
        is_spectrum = image.mode is Mode.SPECTRAL
        image = replace(image, flow=label) if is_spectrum else replace(image, mmode=label)
        found, traces = _measure(image, pixels)
        said = "  ".join(f"{one.quantity} {one.value:.3g} {one.unit}" for one in found)
        print(f"  {Path(file).stem} as {label}: {said or 'nothing'}")
        if folder is not None:
            _draw(folder / f"real-{Path(file).stem}.png", pixels, traces)


def _open(file: str) -> tuple[Image, Pixels]:
    with open_study(FOLDER / file) as opened:
        image = opened.study.images[0]
        return image, opened.frame(image.file, image.frames - 1)


def _rate(file: str, true: float) -> str:
    image, pixels = _open(file)
    rhythm, found = read_ecg(image, pixels)
    got = next((one for one in found.measurements if one.quantity == "HR"), None)
    if got is None or rhythm is None:
        return f"missing (true {true}): {'; '.join(found.notes)[:70]}"
    error = 100 * (got.value / true - 1)
    low, high = got.interval90
    verdict = "PASS" if abs(error) <= LIMIT else "PAST"
    return (
        f"{got.value:6.1f}/min, true {true} ({error:+.1f} %), interval {low:.0f} to "
        f"{high:.0f}, from {rhythm.source}  {verdict}"
    )


def _measure(image: Image, pixels: Pixels) -> tuple[tuple[Measurement, ...], tuple[Trace, ...]]:
    rhythm, of_ecg = read_ecg(image, pixels)
    measure = measure_spectrum if image.mode is Mode.SPECTRAL else measure_mmode
    found = measure(image, pixels, rhythm)
    return of_ecg.measurements + found.measurements, of_ecg.traces + found.traces


def _draw(path: Path, pixels: Pixels, traces: tuple[Trace, ...]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    picture = Picture.fromarray(pixels).convert("RGB")
    picture = picture.resize((2 * picture.width, 2 * picture.height))
    pen = ImageDraw.Draw(picture)
    for trace in traces:
        pen.line([(2 * x + 1, 2 * y + 1) for x, y in trace.points], (255, 70, 220))
    picture.save(path)
