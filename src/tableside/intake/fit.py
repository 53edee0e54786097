"""Do the calibrated boxes fit the picture? A picture that was shrunk keeps the old ones."""

from collections.abc import Sequence
from dataclasses import dataclass

from tableside.model import Box

_SLACK_PX = 1  # a box one past the end is an old habit, not a fault
_FULL_PX = 2  # a box that ends this near the border fills the picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """``doubt`` says why no scale of this image can be used; None when they can."""

    doubt: str | None = None
    notes: tuple[str, ...] = ()


def fit_boxes(boxes: Sequence[Box], rows: int, columns: int) -> Fit:
    """Compare all boxes with the size of the image.

    Notes
    -----
    A box past one border, while a box ends exactly at the other border, is
    what cropping leaves: the pixels keep their size, and the box is cut to the image. In
    every other case the picture may have been shrunk after it was calibrated, and every
    length would be wrong by the same factor.
    """
    boxes = [box for box in boxes if box[2] > box[0] and box[3] > box[1]]
    right = max((box[2] for box in boxes), default=0)
    bottom = max((box[3] for box in boxes), default=0)
    past_right = right - (columns - 1) > _SLACK_PX
    past_bottom = bottom - (rows - 1) > _SLACK_PX
    if not past_right and not past_bottom:
        return Fit()
    is_full_across = any(abs(box[2] - (columns - 1)) <= _FULL_PX for box in boxes)
    is_full_down = any(abs(box[3] - (rows - 1)) <= _FULL_PX for box in boxes)
    if past_bottom and not past_right and is_full_across:
        return Fit(notes=(_cropped("below", bottom - rows + 1, "rows"),))
    if past_right and not past_bottom and is_full_down:
        return Fit(notes=(_cropped("at the right", right - columns + 1, "columns"),))
    return Fit(
        doubt=(
            f"the calibrated area reaches to column {right}, row {bottom}, but the image is "
            f"only {columns} x {rows}: it was shrunk or cut after it was calibrated. Use the "
            "original from the machine, or give the scale read off the ruler in the worksheet"
        )
    )


def _cropped(where: str, count: int, what: str) -> str:
    return f"{count} {what} {where} were cropped from this image; its scale is kept"
