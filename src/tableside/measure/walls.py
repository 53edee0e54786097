"""Walls of the left ventricle from a traced M-mode: six numbers, each over its beats."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean, median

from tableside.errors import NotMeasurable, OutOfRange
from tableside.measure.average import average
from tableside.measure.moment import Place
from tableside.measure.wall_beats import WallBeat, WallRows, wall_beats
from tableside.model import Beat, Measurement, Rhythm

QUANTITIES = ("IVSd", "IVSs", "LVIDd", "LVIDs", "LVPWd", "LVPWs")
CONVENTION = "leading edge"
# a wall that grows by more than both has a line before it
THICKER_CM, THICKER_SHARE = 0.15, 0.22
LIKE_SEPTUM = (0.55, 1.8)  # free wall over septum, beyond which the tracing is doubted
LINE_REASON = (
    "a second line, chorda or papillary muscle, lies before the free wall in this beat"
)
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
    kept = _without_line_beats(beats)
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
    """Widen the spread of a free wall that is far thicker or thinner than the septum."""
    sizes = {one.quantity: one.value for one in found}
    marked = []
    for one in found:
        septum = sizes.get(one.quantity.replace("LVPW", "IVS"))
        is_wall = one.quantity.startswith("LVPW") and septum is not None
        if is_wall and septum and not LIKE_SEPTUM[0] < one.value / septum < LIKE_SEPTUM[1]:
            trace = max(one.spread.trace, abs(one.value - septum) / 3)
            note = (
                f"The free wall ({one.value:.2f} cm) and the septum ({septum:.2f} cm) are far "
                "from alike; another line may have been taken for one. Look at the trace."
            )
            spread = replace(one.spread, trace=trace)
            one = replace(one, spread=spread, notes=(*one.notes, note))  # noqa: PLW2901
        marked.append(one)
    return marked


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
                kept[index] = _set_aside(kept[index], phase)
    return tuple(kept)


def _lower_middle(values: Sequence[float]) -> float:
    """Return the median of the lower half."""
    ordered = sorted(values)
    return median(ordered[: max(1, (len(ordered) + 1) // 2)])


def _set_aside(beat: WallBeat, phase: str) -> WallBeat:
    readings = dict(beat.readings)
    for name in (f"LVPW{phase}", f"LVID{phase}"):
        readings[name] = _unused(readings[name])
    return replace(beat, readings=readings)


def _unused(beat: Beat) -> Beat:
    return beat if not beat.used else replace(beat, used=False, reason=LINE_REASON)
