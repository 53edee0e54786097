"""Edits of the records before anything is measured: labels, scales, calipers, the visit."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from tableside.corrections.names import BY_HAND, parse_beat
from tableside.errors import NotFound, OutOfRange, TablesideError
from tableside.intake.hand_scale import hand_region
from tableside.intake.labels import NO_SCALE, misplaced
from tableside.intake.opened_file import image_mode
from tableside.intake.worksheet_keys import ImageTable, ScaleTable
from tableside.model import Caliper, Image, Mode, Patient, Point, Sex, Species, Study, Visit
from tableside.store.edit_log import EditRecord

REPLACED = "a scale given by hand replaces that of the file"
Line = tuple[Point, Point]
PATIENT = frozenset(one.name for one in fields(Patient))
VISIT = frozenset(one.name for one in fields(Visit))
READ_FACT: Mapping[str, Callable[[Any], Any]] = {
    "species": Species,
    "sex": Sex,
    "birth_date": dt.date.fromisoformat,
    "date": dt.date.fromisoformat,
    "signs": tuple,
}


@dataclass(slots=True)
class Facts:
    """A study while edits are applied to it.

    ``calipers`` are by id, in order; ``lines`` by file, with the version of their edit.
    """

    study: Study
    images: dict[str, Image]
    labels: dict[str, dict[str, str | None]]
    scales: dict[str, ScaleTable]
    calipers: dict[str, Caliper]
    lines: dict[str, tuple[int, Line]]
    without_effect: dict[int, str]


def facts_after(study: Study, edits: Sequence[EditRecord]) -> Facts:
    """Apply the edits that come before measuring; one that cannot be applied is noted."""
    facts = Facts(
        study=study,
        images={image.file: image for image in study.images},
        labels={},
        scales={},
        calipers={f"w{place}": one for place, one in enumerate(study.calipers)},
        lines={},
        without_effect={},
    )
    for edit in edits:
        apply = APPLY.get(edit.kind)
        if apply is None:
            continue
        try:
            apply(facts, edit)
        except (TablesideError, ValueError) as error:
            facts.without_effect[edit.version] = str(error)
    images = tuple(_image(facts, one) for one in study.images)
    calipers = tuple(facts.calipers.values())
    facts.study = replace(facts.study, images=images, calipers=calipers)
    return facts


def moved_points(points: Sequence[Point], payload: Mapping[str, Any]) -> tuple[Point, ...]:
    """Return points after a move of one of them, or all replaced.

    Raises
    ------
    OutOfRange
        For a point that there is not.
    """
    if payload.get("points") is not None:
        return tuple((float(x), float(y)) for x, y in payload["points"])
    place = int(payload["point"])
    if not 0 <= place < len(points):
        raise OutOfRange(f"point = {place}; the beat has points 0 to {len(points) - 1}")
    x, y = payload["to"]
    return (*points[:place], (float(x), float(y)), *points[place + 1 :])


def _label(facts: Facts, edit: EditRecord) -> None:
    file = _known(facts, edit.payload["file"]).file
    given = {key: edit.payload[key] for key in ("view", "mmode", "flow") if key in edit.payload}
    facts.labels.setdefault(file, {}).update(given)


def _scale(facts: Facts, edit: EditRecord) -> None:
    image = _known(facts, edit.payload["file"])
    given = edit.payload.get("scale")
    if given is None:
        facts.scales.pop(image.file, None)
        return
    scale = ScaleTable.model_validate(given)
    hand_region(ImageTable(file=image.file), scale, image.rows, image.columns)
    facts.scales[image.file] = scale


def _caliper(facts: Facts, edit: EditRecord) -> None:
    payload = edit.payload
    image = _known(facts, payload["file"])
    facts.calipers[f"c{edit.version}"] = Caliper(
        quantity=payload["quantity"],
        file=image.file,
        frame=int(payload["frame"]),
        points=tuple((float(x), float(y)) for x, y in payload["points"]),
    )


def _line(facts: Facts, edit: EditRecord) -> None:
    (x0, y0), (x1, y1) = edit.payload["line"]
    file = _known(facts, edit.payload["file"]).file
    line = (float(x0), float(y0)), (float(x1), float(y1))
    facts.lines[file] = edit.version, line


def _move(facts: Facts, edit: EditRecord) -> None:
    name = parse_beat(edit.payload["beat"])
    if name.caliper is None:
        return
    caliper = _caliper_of(facts, name.caliper)
    points = moved_points(caliper.points, edit.payload)
    facts.calipers[name.caliper] = replace(caliper, points=points)


def _remove(facts: Facts, edit: EditRecord) -> None:
    name = parse_beat(edit.payload["beat"])
    if name.caliper is None:
        raise NotFound(
            "only what a person drew can be removed; leave the beat out, or refuse the number"
        )
    _caliper_of(facts, name.caliper)
    del facts.calipers[name.caliper]


def _visit(facts: Facts, edit: EditRecord) -> None:
    given: dict[str, Any] = {
        name: value if value is None else READ_FACT.get(name, lambda same: same)(value)
        for name, value in edit.payload.items()
    }
    if given.get("signs", ()) is None:
        given["signs"] = ()
    study = facts.study
    facts.study = replace(
        study,
        patient=replace(study.patient, **{k: v for k, v in given.items() if k in PATIENT}),
        visit=replace(study.visit, **{k: v for k, v in given.items() if k in VISIT}),
    )


APPLY: Mapping[str, Callable[[Facts, EditRecord], None]] = {
    "label": _label,
    "scale": _scale,
    BY_HAND: _caliper,
    "move": _move,
    "remove": _remove,
    "visit": _visit,
    "line": _line,
}


def _known(facts: Facts, file: str) -> Image:
    if file not in facts.images:
        raise NotFound(f"no image {file!r} in this study")
    return facts.images[file]


def _caliper_of(facts: Facts, caliper: str) -> Caliper:
    if caliper not in facts.calipers:
        raise NotFound("this caliper is not there any more")
    return facts.calipers[caliper]


def _image(facts: Facts, image: Image) -> Image:
    """Return an image with its labels and its scale, as the worksheet would have given them."""
    labels, scale = facts.labels.get(image.file), facts.scales.get(image.file)
    if labels is None and scale is None:
        return image
    wrong = misplaced(image)
    set_ = {"view": image.view, "mmode": image.mmode, "flow": image.flow, **(labels or {})}
    image = replace(
        image,
        view=set_["view"],
        mmode=set_["mmode"],
        flow=set_["flow"],
        notes=tuple(note for note in image.notes if note not in wrong),
    )
    if scale is not None:
        table = ImageTable(file=image.file, mmode=image.mmode)
        region = hand_region(table, scale, image.rows, image.columns)
        had = (REPLACED,) if image.regions else ()
        notes = tuple(note for note in image.notes if note != NO_SCALE)
        image = replace(image, regions=(region,), doubt=None, notes=notes + had)
        image = replace(image, mode=image_mode(image.regions))
    if image.mode is Mode.UNKNOWN and (image.mmode or image.flow):
        image = replace(image, mode=Mode.M_MODE if image.mmode else Mode.SPECTRAL)
    return replace(image, notes=image.notes + misplaced(image))
