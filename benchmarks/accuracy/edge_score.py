"""Each traced line against its true edge, column by column: which line goes astray."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.accuracy.case import Answer, Tracing
from tableside.model import RegionKind

LOST_MM = 2.0
TRUE_EDGES = {
    "septum, right side": "septum right",
    "septum, left side": "septum left",
    "free wall, endocardium": "wall endocardium",
    "free wall, epicardium": "wall epicardium",
    "anterior mitral leaflet": "anterior mitral leaflet",
    "aorta, anterior wall": "aorta anterior",
    "aorta, posterior wall": "aorta posterior",
    "left atrium, far wall": "left atrial wall",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeRow:
    """One line of one tracing, in mm; ``lost`` is the share of columns off by over 2 mm."""

    name: str
    bias: float
    median: float
    lost: float


def edge_rows(tracing: Tracing, answer: Answer) -> list[EdgeRow]:
    """Compare every line that has a true edge."""
    region = tracing.image.region(RegionKind.M_MODE)
    if region is None:
        return []
    found = []
    for trace in answer.found.traces:
        edge = tracing.edges.get(TRUE_EDGES.get(trace.name, ""))
        if edge is None or not trace.points:
            continue
        points = np.array(trace.points)
        true = np.interp(points[:, 0] - tracing.left, np.arange(len(edge)), edge)
        off = 10 * region.cm_per_row * (points[:, 1] - true)
        found.append(
            EdgeRow(
                name=trace.name,
                bias=float(np.median(off)),
                median=float(np.median(np.abs(off))),
                lost=float(np.mean(np.abs(off) > LOST_MM)),
            )
        )
    return found


def print_edges(rows: Sequence[EdgeRow]) -> None:
    """Print one line an edge: medians over tracings, and how often it was lost."""
    groups: dict[str, list[EdgeRow]] = defaultdict(list)
    for row in rows:
        groups[row.name].append(row)
    if groups:
        print(
            "\nLines against true edges (mm; lost: over 2 mm off in more than 5 % of columns)"
        )
    for name, group in groups.items():
        bias = np.array([row.bias for row in group])
        lost = 100 * np.mean([row.lost > 0.05 for row in group])
        print(
            f"  {name:24} tracings {len(group):4d}  median offset {np.median(bias):+5.2f}"
            f"  middle half {np.quantile(bias, 0.25):+5.2f} to {np.quantile(bias, 0.75):+5.2f}"
            f"  distance {np.median([row.median for row in group]):4.2f}  lost {lost:4.1f}%"
        )
