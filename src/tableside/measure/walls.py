"""Walls of the left ventricle from a traced M-mode: six numbers, each over its beats."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean, median

from tableside.errors import NotMeasurable, OutOfRange
from tableside.measure.average import average
from tableside.measure.moment import Place
from tableside.measure.wall_beats import WallBeat, WallRows, wall_beats
from tableside.model import Measurement, Rhythm

QUANTITIES = ("IVSd", "IVSs", "LVIDd", "LVIDs", "LVPWd", "LVPWs")
CONVENTION = "leading edge"
# a wall that grows by more than both has a line before it
THICKER_CM, THICKER_SHARE = 0.15, 0.22
# free wall over septum: beyond the first it is doubted, beyond the second not reported
SELDOM_UNLIKE, NEVER_UNLIKE = (0.6, 1.65), (0.45, 2.2)
LINE_REASON = (
    "a second line, chorda or papillary muscle, lies before the free wall in this beat"
)
THIN_REASON = "the free wall is far too thin beside the septum: a line within it was followed"
THICK_REASON = "the free wall is far too thick beside the septum: a line beyond was followed"
PHASE_BY_MOTION = (
    "No R waves that fit the motion of the walls could be read: end diastole is the largest "
    "cavity of each beat, end systole the smallest."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WallReading:
    """The measurements of one tracing, and notes on what is missing or doubtful."""

    measurements: tuple[Measurement, ...] = ()
    notes: tuple[str, ...] = ()


def measure_walls(walls: WallRows, rhythm: Rhythm, place: Place) -> WallReading:
    """Measure the walls over all complete beats.

    Parameters
    ----------
    walls : WallRows
        What was traced on the region.
    rhythm : Rhythm
    place : Place

    Returns
    -------
    WallReading

    Raises
    ------
    NotMeasurable
        When the tracing holds no complete beat.

    Notes
    -----
    Beat i goes from R wave i to the next. End diastole is the onset of the QRS, end systole
    the smallest cavity (Sahn 1978). Sizes go from leading edge to leading edge; the same
    by the inner edges stands in ``edges``.
    """
    beats = list(wall_beats(walls, rhythm, place))
    if not beats:
        raise NotMeasurable(
            "the tracing holds no complete beat from R wave to R wave; store a longer sweep"
        )
    kept = _without_line_beats([_without_unlikely_wall(beat) for beat in beats])
    found: list[Measurement] = []
    notes: list[str] = [PHASE_BY_MOTION] if rhythm.source == "tracing" else []
    for quantity in QUANTITIES:
        try:
            found.append(_measurement(quantity, kept, place))
        except (NotMeasurable, OutOfRange) as error:
            notes.append(str(error))
    return _possible(_with_unequal_walls(found), notes)


def _measurement(quantity: str, beats: Sequence[WallBeat], place: Place) -> Measurement:
    readings = [beat.readings[quantity] for beat in beats]
    used = [beat for beat in beats if beat.readings[quantity].used]
    inner = {"inner edge": fmean(beat.inner_cm[quantity] for beat in used)} if used else {}
    return average(
        quantity,
        readings,
        method="automatic",
        scale_sd=place.scale_sd,
        convention=CONVENTION,
        scale=place.scale,
        edges=inner,
        notes=_second_line_note(quantity, used),
    )


def _second_line_note(quantity: str, used: Sequence[WallBeat]) -> tuple[str, ...]:
    other = [beat.second_cm[quantity] for beat in used if quantity in beat.second_cm]
    if not other:
        return ()
    return (
        f"A second line lies before the free wall in {len(other)} of {len(used)} beats and was "
        f"taken for a chorda or papillary muscle; if it is the wall, {quantity} is "
        f"{fmean(other):.2f} cm there. Look at the trace.",
    )


def _with_unequal_walls(found: Sequence[Measurement]) -> list[Measurement]:
    """Widen a free wall that is far from like the septum, and the cavity before it.

    Such walls are rare in animals and common in tracings in which another line was followed.
    """
    sizes = {one.quantity: one.value for one in found}
    marked = []
    for one in found:
        name, phase = one.quantity[:-1], one.quantity[-1]
        septum, wall = sizes.get(f"IVS{phase}"), sizes.get(f"LVPW{phase}")
        if name == "IVS" or not septum or not wall or _is_like(wall / septum, SELDOM_UNLIKE):
            marked.append(one)
            continue
        note = (
            f"The free wall ({wall:.2f} cm) and the septum ({septum:.2f} cm) are far from "
            "alike; another line may have been taken for one. Look at the trace."
        )
        trace = max(one.spread.trace, abs(wall - septum) / 2)
        spread = replace(one.spread, trace=trace)
        marked.append(replace(one, spread=spread, notes=(*one.notes, note)))
    return marked


def _is_like(ratio: float, limits: tuple[float, float]) -> bool:
    return limits[0] < ratio < limits[1]


def _possible(found: list[Measurement], notes: list[str]) -> WallReading:
    """Leave out a cavity that is larger in systole than in diastole."""
    sizes = {one.quantity: one.value for one in found}
    if sizes.get("LVIDs", 0.0) > sizes.get("LVIDd", float("inf")):
        notes.append(
            f"LVIDs {sizes['LVIDs']:.2f} cm is larger than LVIDd {sizes['LVIDd']:.2f} cm, "
            "which cannot be: the R waves or the edges are wrong, and neither is reported. "
            "Measure by hand."
        )
        found = [one for one in found if not one.quantity.startswith("LVID")]
    return WallReading(measurements=tuple(found), notes=tuple(notes))


def _without_line_beats(beats: Sequence[WallBeat]) -> tuple[WallBeat, ...]:
    """Set aside the beats in which a line before the free wall was taken for it.

    The wall then grows, from one beat to the next, by what the cavity loses.
    """
    kept = list(beats)
    for phase in ("d", "s"):
        walls = [beat.readings[f"LVPW{phase}"].value for beat in kept]
        cavities = [beat.readings[f"LVID{phase}"].value for beat in kept]
        thin = _lower_middle(walls)
        wide = median(
            cavity for cavity, wall in zip(cavities, walls, strict=True) if wall <= thin + 0.05
        )
        least = max(THICKER_CM, THICKER_SHARE * thin)
        for index, (wall, cavity) in enumerate(zip(walls, cavities, strict=True)):
            if wall - thin > least and wide - cavity > 0.6 * (wall - thin):
                names = (f"LVPW{phase}", f"LVID{phase}")
                kept[index] = _set_aside(kept[index], names, LINE_REASON)
    return tuple(kept)


def _without_unlikely_wall(beat: WallBeat) -> WallBeat:
    """Set aside, in one beat, a free wall that the septum tells to be none.

    Where it is too thin the line within was taken for the endocardium, and the cavity is
    wrong with it; where it is too thick a line beyond was taken for the epicardium.
    """
    for phase in ("d", "s"):
        septum, wall = (beat.readings[name + phase].value for name in ("IVS", "LVPW"))
        if wall < NEVER_UNLIKE[0] * septum:
            beat = _set_aside(beat, (f"LVPW{phase}", f"LVID{phase}"), THIN_REASON)
        elif wall > NEVER_UNLIKE[1] * septum:
            beat = _set_aside(beat, (f"LVPW{phase}",), THICK_REASON)
    return beat


def _lower_middle(values: Sequence[float]) -> float:
    """Return the median of the lower half."""
    ordered = sorted(values)
    return median(ordered[: max(1, (len(ordered) + 1) // 2)])


def _set_aside(beat: WallBeat, names: Sequence[str], reason: str) -> WallBeat:
    readings = {
        name: replace(one, used=False, reason=reason) if name in names and one.used else one
        for name, one in beat.readings.items()
    }
    return replace(beat, readings=readings)
