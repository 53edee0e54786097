"""How long the M-mode steps take on a picture of 500 rows and 1,000 columns, on one core."""

from collections.abc import Callable, Iterator
from time import process_time

import cv2

from benchmarks.line import Line
from tableside.imaging.aorta import trace_root
from tableside.imaging.mitral import trace_leaflet
from tableside.imaging.walls import trace_walls
from tableside.phantom.mmode import MModeSpec, aorta_left_atrium, left_ventricle, mitral_valve

SPEC = MModeSpec(rows=500, columns=1000, ecg="across", chorda=True)
LIMIT_MS = 100.0


def run(quick: bool) -> Iterator[Line]:
    """Yield the processor time of each step, the best of several runs."""
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
    for name, step in steps.items():
        took_ms = min(_took_ms(step) for _ in range(3 if quick else 9))
        limit = f"limit {LIMIT_MS:.0f} ms"
        yield Line(f"{name}, 500 x 1,000", f"{took_ms:.0f} ms", limit, took_ms <= LIMIT_MS)


def _took_ms(step: Callable[[], object]) -> float:
    start = process_time()
    step()
    return 1000 * (process_time() - start)
