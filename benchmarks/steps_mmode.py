"""How long the M-mode steps take on a picture of 500 rows and 1,000 columns, on one core.

Run: ``python benchmarks/steps_mmode.py``. Prints the best and the median processor time of
several runs.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections.abc import Callable
from statistics import median
from time import process_time

import cv2

from tableside.imaging.aorta import trace_root
from tableside.imaging.mitral import trace_leaflet
from tableside.imaging.walls import trace_walls
from tableside.phantom.mmode import MModeSpec, aorta_left_atrium, left_ventricle, mitral_valve

RUNS = 9
SPEC = MModeSpec(rows=500, columns=1000, ecg="across", chorda=True)


def timed(step: Callable[[], object]) -> tuple[float, float]:
    times = []
    for _ in range(RUNS):
        start = process_time()
        step()
        times.append(1000 * (process_time() - start))
    return min(times), median(times)


def main() -> None:
    cv2.setNumThreads(1)
    ventricle, valve, root = (
        make(SPEC, seed=1) for make in (left_ventricle, mitral_valve, aorta_left_atrium)
    )
    scale = {"cm_per_row": ventricle.cm_per_row, "s_per_column": ventricle.s_per_column}
    valve_scale = {"cm_per_row": valve.cm_per_row, "s_per_column": valve.s_per_column}
    root_scale = {"cm_per_row": root.cm_per_row, "s_per_column": root.s_per_column}
    walls = trace_walls(valve.pixels, **valve_scale)
    steps: dict[str, Callable[[], object]] = {
        "walls of the left ventricle": lambda: trace_walls(ventricle.pixels, **scale),
        "anterior mitral leaflet, walls known": lambda: trace_leaflet(valve.pixels, walls),
        "aortic root and left atrium": lambda: trace_root(root.pixels, **root_scale),
    }
    print(f"{'step, 500 x 1,000 in colour':40s} {'best ms':>8s} {'median':>8s}  goal 100 ms")
    for name, step in steps.items():
        best, middle = timed(step)
        print(f"{name:40s} {best:8.0f} {middle:8.0f}")


if __name__ == "__main__":
    main()
