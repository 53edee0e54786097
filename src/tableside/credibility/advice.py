"""From doubted numbers to what is worth doing now, one entry a manoeuvre."""

from collections.abc import Iterable

from tableside.model import Advice, Check, Verdict


def advice(checks: Iterable[Check]) -> tuple[Advice, ...]:
    """Return what to do about doubtful and failed checks, in their order, each once.

    ``about`` gathers every number that the manoeuvre would settle.
    """
    by_remedy: dict[str, tuple[int | None, dict[str, None]]] = {}
    for check in checks:
        if check.verdict not in (Verdict.DOUBTFUL, Verdict.FAILS) or check.remedy is None:
            continue
        _, about = by_remedy.setdefault(check.remedy, (check.seconds, {}))
        about.update(dict.fromkeys(check.about[:1]))
    return tuple(
        Advice(rank=rank, action=action, about=tuple(about), seconds=seconds)
        for rank, (action, (seconds, about)) in enumerate(by_remedy.items(), start=1)
    )
