"""The views and samples of a complete study: there, missing, or not to be relied on."""

from collections.abc import Sequence

from tableside.credibility.views import Item, Protocol, protocol_named, protocols
from tableside.model import Check, Exam, Image, ProtocolItem, Species, Verdict

PRESENT, MISSING, NOT_CREDIBLE = "present", "missing", "not credible"
UNUSABLE = 0.5  # a number more likely unusable than usable does not complete a study


def protocol(
    exam: Exam, checks: Sequence[Check] = (), name: str | None = None
) -> tuple[ProtocolItem, ...]:
    """Compare a study with what a complete one holds.

    Parameters
    ----------
    exam : Exam
        Its images with their labels, and what was measured on them.
    checks : sequence of Check
        What the checks found about these numbers.
    name : str, optional
        A protocol of ``data/views.toml``; by default the first one of the species, a dog where
        the species is not known.

    Returns
    -------
    tuple of ProtocolItem
        In the order of the protocol. An image without a label counts for nothing, but a missing
        item says how many images wait for theirs.

    Notes
    -----
    An item is not credible when every image of it has a doubted scale or none, or when all
    numbers that it gave are more likely unusable than usable by a check.
    """
    chosen = _for_species(exam.patient.species) if name is None else protocol_named(name)
    return tuple(_state(item, exam, checks) for item in chosen.items)


def _for_species(species: Species | None) -> Protocol:
    wanted = species or Species.DOG
    return next(one for one in protocols().values() if one.species is wanted)


def _state(item: Item, exam: Exam, checks: Sequence[Check]) -> ProtocolItem:
    shown = [image for image in exam.study.images if item.is_shown_by(image)]
    if not shown:
        return ProtocolItem(view=item.name, state=MISSING, why=_why_missing(item, exam))
    usable = [image for image in shown if item.obstacle(image) is None]
    if not usable:
        why = f"{shown[0].file}: {item.obstacle(shown[0])}"
        return ProtocolItem(view=item.name, state=NOT_CREDIBLE, why=why)
    why_not = _why_unusable(item, exam, usable, checks)
    if why_not is not None:
        return ProtocolItem(view=item.name, state=NOT_CREDIBLE, why=why_not)
    return ProtocolItem(view=item.name, state=PRESENT)


def _why_missing(item: Item, exam: Exam) -> str:
    waiting = sum(item.awaits_label(image) for image in exam.study.images)
    if waiting == 0:
        return "no image of it"
    wait = "1 image waits" if waiting == 1 else f"{waiting} images wait"
    return f"no image is labelled so; {wait} for a label"


def _why_unusable(
    item: Item, exam: Exam, images: Sequence[Image], checks: Sequence[Check]
) -> str | None:
    """Return a phrase when every number of the item fails a check, else None."""
    files = {image.file for image in images}
    given = dict.fromkeys(
        one.quantity
        for one in exam.measurements
        if one.quantity in item.numbers and files & set(one.files)
    )
    worst = [_worst(quantity, checks) for quantity in given]
    failing = [check for check in worst if check is not None]
    if not failing or len(failing) < len(worst):
        return None
    check = failing[0]
    law = check.id.replace("-", " ")
    return f"{check.about[0]} is unusable with probability {_probability(check):.2f} ({law})"


def _worst(quantity: str, checks: Sequence[Check]) -> Check | None:
    """Return the check that speaks most strongly against a number, or None."""
    against = [
        check
        for check in checks
        if check.about[:1] == (quantity,)
        and check.verdict in (Verdict.FAILS, Verdict.DOUBTFUL)
        and _probability(check) > UNUSABLE
    ]
    return max(against, key=_probability, default=None)


def _probability(check: Check) -> float:
    return check.probability_unusable or 0.0
