"""What a person measured: calipers of the worksheet become measurements."""

from collections.abc import Iterable
from dataclasses import dataclass

from tableside.errors import InputError, NotMeasurable
from tableside.measure.average import average
from tableside.measure.caliper_regions import caliper_region
from tableside.measure.caliper_rules import caliper_rules
from tableside.measure.caliper_values import M_MODES, CaliperOptions, CaliperValue
from tableside.model import (
    Beat,
    Caliper,
    Image,
    Measurement,
    Region,
    Rejected,
    Study,
    quantity,
)

A_STEADY_HAND = CaliperOptions()
MMODE_DETAIL = ("LA", "Ao")  # their size on an M-mode is another number than in short axis


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    """One caliper that was read: where, and what it gave."""

    caliper: Caliper
    region: Region
    found: CaliperValue

    @property
    def group(self) -> tuple[str, str, int]:
        """Calipers of one group are several beats of one quantity in one picture."""
        return self.caliper.quantity, self.caliper.file, self.region.index

    @property
    def beat(self) -> Beat:
        has_time = self.region.x is not None and self.region.x.unit == "s"
        return Beat(
            file=self.caliper.file,
            frame=self.caliper.frame,
            value=self.found.value,
            sd=self.found.sd,
            time_s=self.region.seconds_from_left(self.found.column) if has_time else None,
            points=self.caliper.points,
        )


def caliper_measurements(
    study: Study, options: CaliperOptions = A_STEADY_HAND
) -> tuple[tuple[Measurement, ...], tuple[Rejected, ...]]:
    """Measure what a person marked.

    Parameters
    ----------
    study : Study
        Its calipers in pixel centres, its images with their calibrated regions.
    options : CaliperOptions
        How well a person places a point.

    Returns
    -------
    tuple of Measurement
        One for each quantity, file and region, in the order of the worksheet. Several
        calipers of one quantity in one picture are several beats.
    tuple of Rejected
        The calipers that give no number, each with a sentence on why.
    """
    read: list[_Read] = []
    rejected: list[Rejected] = []
    for caliper in study.calipers:
        try:
            read.append(_read(study, caliper, options))
        except (InputError, NotMeasurable) as error:
            reason = f"caliper {caliper.quantity}: {error}"
            rejected.append(Rejected(file=caliper.file, reason=reason))
    groups: dict[tuple[str, str, int], list[_Read]] = {}
    for one in read:
        groups.setdefault(one.group, []).append(one)
    return tuple(map(_measurement, groups.values())), tuple(rejected)


def _read(study: Study, caliper: Caliper, options: CaliperOptions) -> _Read:
    entry = quantity(caliper.quantity)
    rule = caliper_rules()[caliper.quantity]
    image = _image(study, caliper)
    rule.require_count(caliper.points)
    if entry.kind == "volume" and image.view is not None and "short axis" in image.view:
        raise NotMeasurable(
            "a volume by discs needs a view along the ventricle or atrium; "
            f"this image is {image.view}"
        )
    region = caliper_region(image, caliper.points, rule.needs)
    found = rule.read(region, caliper.points, options)
    entry.require_plausible(found.value)
    return _Read(caliper=caliper, region=region, found=found)


def _image(study: Study, caliper: Caliper) -> Image:
    image = study.image(caliper.file)
    if image is None:
        raise NotMeasurable("the file is not among the images that could be read")
    if not 0 <= caliper.frame < image.frames:
        raise NotMeasurable(
            f"frame {caliper.frame} does not exist; the frames are 0 to {image.frames - 1}"
        )
    return image


def _measurement(group: list[_Read]) -> Measurement:
    first = group[0]
    on_mmode = first.region.kind in M_MODES and first.caliper.quantity in MMODE_DETAIL
    return average(
        first.caliper.quantity,
        [one.beat for one in group],
        method="caliper",
        scale_sd=max(one.found.scale_sd for one in group),
        detail="m-mode" if on_mmode else None,
        scale=f"{first.caliper.file}#{first.region.index}",
        notes=_distinct(one.found.note for one in group),
    )


def _distinct(notes: Iterable[str | None]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(note for note in notes if note is not None))
