"""Which numbers a check speaks against, and what rests on them."""

from collections.abc import Mapping, Sequence

from tableside.model import Check, Finding, Reading, Verdict

DOUBTED = (Verdict.FAILS, Verdict.DOUBTFUL)


def checks_against(reading: Reading, name: str) -> list[Check]:
    """Return the checks that doubt a number: it is the one they name first."""
    return [one for one in reading.checks if one.verdict in DOUBTED and name in one.about[:1]]


def doubted_numbers(reading: Reading) -> Mapping[str, tuple[str, ...]]:
    """Return the doubted numbers by name, with the doubted measurements they rest on.

    A number that a check names rests on itself; an index rests on its doubted inputs.
    """
    found: dict[str, tuple[str, ...]] = {
        check.about[0]: (check.about[0],)
        for check in reading.checks
        if check.verdict in DOUBTED and check.about
    }
    for index in reading.exam.indices:  # an index stands after those it is computed from
        if index.name not in found:
            below = [root for name in index.inputs for root in found.get(name, ())]
            if below:
                found[index.name] = tuple(dict.fromkeys(below))
    return found


def doubted_below(finding: Finding, doubted: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Return the doubted numbers a finding rests on, by the first word of its inputs."""
    names = (text.split(" ", 1)[0].rstrip(":,") for text in finding.inputs)
    return tuple(dict.fromkeys(root for name in names for root in doubted.get(name, ())))
