"""Edits of beats that were measured: a point moved, a beat left out or taken back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from statistics import fmean

from tableside.corrections.facts import moved_points
from tableside.corrections.names import BY_HAND, BeatName, measurement_id, parse_beat, where
from tableside.errors import NotFound, NotMeasurable, TablesideError
from tableside.measure.average import average
from tableside.measure.caliper_regions import caliper_region
from tableside.measure.caliper_rules import caliper_rules
from tableside.measure.caliper_values import CaliperOptions
from tableside.model import Beat, Caliper, Image, Measurement, Point, Trace, quantity
from tableside.store.edit_log import EditRecord

LEFT_OUT = "left out by hand"
A_STEADY_HAND = CaliperOptions()
ENVELOPES = ("vti", "gradient")
SAME_PX = 0.01


@dataclass(slots=True)
class BeatEdits:
    """Applies the edits of beats to one measurement after the other.

    ``names`` fills with the name of every beat, ``found_at`` with its first points, ``moved``
    with those that a person moved, ``without_effect`` with the edits that were not applied.
    """

    images: Mapping[str, Image]
    traces: Sequence[Trace]
    calipers: Mapping[str, Caliper]
    edits: Mapping[BeatName, list[EditRecord]]
    names: dict[str, dict[tuple[object, ...], list[BeatName]]] = field(default_factory=dict)
    found_at: dict[BeatName, tuple[Point, ...]] = field(default_factory=dict)
    moved: set[BeatName] = field(default_factory=set)
    seen: set[BeatName] = field(default_factory=set)
    without_effect: dict[int, str] = field(default_factory=dict)
    _counts: dict[tuple[str, str], int] = field(default_factory=dict)

    def correct(self, one: Measurement) -> Measurement:
        """Return a measurement of one image with what a person changed."""
        named = [(self._name(one, beat), beat) for beat in one.beats]
        beats = [self._beat(one, name, beat) for name, beat in named]
        corrected = self._averaged(one, beats, [name for name, _ in named])
        known = self.names.setdefault(measurement_id(one), {})
        for (name, _), beat in zip(named, corrected.beats, strict=True):
            known.setdefault(where(beat), []).append(name)
        return corrected

    def note_unseen(self) -> None:
        """Say of every edit whose beat is not there that it has no effect."""
        for name, edits in self.edits.items():
            if name not in self.seen:
                for edit in edits:
                    gone = "the beat that it changes is not measured any more"
                    self.without_effect.setdefault(edit.version, gone)

    def _name(self, one: Measurement, beat: Beat) -> BeatName:
        what = measurement_id(one)
        if one.method == BY_HAND:
            place = self._caliper_id(one, beat)
        else:
            count = self._counts[what, beat.file] = self._counts.get((what, beat.file), -1) + 1
            place = str(count)
        name = BeatName(what, beat.file, place)
        self.seen.add(name)
        self.found_at[name] = beat.points
        return name

    def _caliper_id(self, one: Measurement, beat: Beat) -> str:
        """Return the caliper that gave a beat; of equal ones, one after the other."""
        given = (one.quantity, beat.file, beat.frame, beat.points)
        return next(
            id_
            for id_, caliper in self.calipers.items()
            if (caliper.quantity, caliper.file, caliper.frame, caliper.points) == given
            and BeatName(measurement_id(one), beat.file, id_) not in self.seen
        )

    def _beat(self, one: Measurement, name: BeatName, beat: Beat) -> Beat:
        found = beat
        points = editable_points(one, beat, self.traces)
        for edit in self.edits.get(name, ()):
            try:
                if name.caliper is None:
                    _require_same(edit, found)
                if edit.kind == "beat":
                    beat = _with_use(beat, is_used=bool(edit.payload["used"]))
                elif edit.kind == "move" and name.caliper is None:
                    points = moved_points(points, edit.payload)
                    beat = _measured_again(self.images[beat.file], one, beat, points)
                    self.moved.add(name)
            except TablesideError as error:
                self.without_effect[edit.version] = str(error)
        return beat

    def _averaged(
        self, one: Measurement, beats: list[Beat], names: list[BeatName]
    ) -> Measurement:
        if tuple(beats) == one.beats:
            return one
        try:
            return average_again(one, beats)
        except TablesideError as error:
            for name in names:
                for edit in self.edits.get(name, ()):
                    self.without_effect.setdefault(edit.version, str(error))
            return one


def edits_by_beat(edits: Sequence[EditRecord]) -> dict[BeatName, list[EditRecord]]:
    """Return the edits of each beat, in order."""
    found: dict[BeatName, list[EditRecord]] = {}
    for edit in edits:
        if edit.kind in ("move", "beat"):
            name = parse_beat(edit.payload["beat"])
            if edit.kind == "beat" or name.caliper is None:
                found.setdefault(name, []).append(edit)
    return found


def editable_points(one: Measurement, beat: Beat, traces: Sequence[Trace]) -> tuple[Point, ...]:
    """Return the points that a person can drag: of an integral, its envelope too."""
    is_envelope = quantity(one.quantity).kind in ENVELOPES and len(beat.points) == 2
    if not is_envelope:
        return beat.points
    start, end = sorted(beat.points)
    for trace in traces:
        if (trace.file, trace.frame, trace.name) == (beat.file, beat.frame, "envelope"):
            between = [point for point in trace.points if start[0] < point[0] < end[0]]
            return (start, *between, end)
    return beat.points


def average_again(one: Measurement, beats: Sequence[Beat]) -> Measurement:
    """Average a measurement anew from changed beats, as it was averaged at first.

    Other edge conventions move with the value: the thickness of the edge stays.

    Raises
    ------
    NotMeasurable, OutOfRange
        When no beat is left, or the mean is none that a dog or cat has.
    """
    again = average(
        one.quantity,
        beats,
        method=one.method,
        scale_sd=one.spread.calibration / one.value if one.value else 0.0,
        convention=one.convention,
        bound=one.bound,
        detail=one.detail,
        scale=one.scale,
        notes=one.notes,
    )
    if one.quantity == "HR" and one.method != BY_HAND:  # 60 over the mean interval
        rates = [beat.value for beat in beats if beat.used]
        again = replace(again, value=1.0 / fmean(1.0 / rate for rate in rates))
    shift = again.value - one.value
    edges = {name: max(0.0, value + shift) for name, value in one.edges.items()}
    return replace(again, edges=edges)


def _require_same(edit: EditRecord, beat: Beat) -> None:
    """Refuse an edit of a beat that was found elsewhere since, by another label or scale."""
    was = edit.payload.get("was")
    if was is None:
        return
    is_same = len(was) == len(beat.points) and all(
        abs(a - c) <= SAME_PX and abs(b - d) <= SAME_PX
        for (a, b), (c, d) in zip(was, beat.points, strict=True)
    )
    if not is_same:
        raise NotFound("the beat that it changes was found elsewhere since; do it again")


def _with_use(beat: Beat, *, is_used: bool) -> Beat:
    if is_used:
        return replace(beat, used=True, reason=None)
    return replace(beat, used=False, reason=LEFT_OUT)


def _measured_again(
    image: Image, one: Measurement, beat: Beat, points: tuple[Point, ...]
) -> Beat:
    """Return a beat measured from moved points, by the rule of a caliper of its quantity."""
    rule = caliper_rules()[one.quantity]
    if not points:
        raise NotMeasurable("this beat has no points on the image that could be moved")
    rule.require_count(points)
    region = caliper_region(image, points, rule.needs)
    found = rule.read(region, points, A_STEADY_HAND)
    quantity(one.quantity).require_plausible(found.value)
    has_time = region.x is not None and region.x.unit == "s"
    time_s = region.seconds_from_left(found.column) if has_time else beat.time_s
    return replace(beat, value=found.value, sd=found.sd, time_s=time_s, points=points)
