"""Which repeat to do next, and when to stop: expected fall of loss for each second."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from tableside.credibility.advice import advice as remedies
from tableside.credibility.manoeuvres import manoeuvre
from tableside.credibility.next_best.belief import Belief, Hearts, hearts
from tableside.credibility.next_best.decisions import Table, table
from tableside.credibility.next_best.losses import Losses, Repeat, losses
from tableside.credibility.next_best.parts import RATIO, tries, value_of
from tableside.credibility.next_best.readings import ENOUGH_READINGS, next_readings
from tableside.credibility.next_best.value import gains
from tableside.model import Advice, Check, Exam, Sufficiency, Verdict

HALF_MINUTE_S = 30.0
CUFF = "systolic pressure"
ENOUGH, ONE_MORE, NOT_YET = "enough", "worth one more", "not yet"
SURE = 0.995
UNDECIDED = 0.8  # no answer as likely as this: today's images do not decide


@dataclass(frozen=True, slots=True, kw_only=True)
class RankingOptions:
    """How the value of a repeat is reckoned. Change these, not the code.

    ``losses`` is what is decided and at what cost, the shipped file by default.
    """

    hearts: int = 2400
    outer: int = 128
    ahead: int = 3  # sweeps of one view thought of together: one alone may settle nothing
    losses: Losses = field(default_factory=losses)


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """One repeat, its time, and by how much it lowers the loss of each decision.

    ``times`` is how often it is best done; the gain is that of all of them, the seconds those
    of one.
    """

    repeat: Repeat
    seconds: int
    by_decision: dict[str, float]
    times: int = 1

    @property
    def gain(self) -> float:
        """By how much it lowers all of them together."""
        return sum(self.by_decision.values())

    @property
    def a_half_minute(self) -> float:
        """Gain for half a minute."""
        return self.gain * HALF_MINUTE_S / (self.seconds * self.times)

    @property
    def settles(self) -> str:
        """The decision that it serves most."""
        return max(self.by_decision, key=lambda each: self.by_decision[each])


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """What to do, best first; whether it is enough; and what every repeat is worth.

    ``chosen`` are the repeats behind the advice, in its order; ``worths`` all that can be done.
    """

    advice: tuple[Advice, ...]
    sufficiency: Sufficiency
    chosen: tuple[Worth, ...]
    worths: tuple[Worth, ...]


def advice(
    exam: Exam,
    posterior: Belief,
    checks: Sequence[Check] = (),
    *,
    options: RankingOptions | None = None,
) -> tuple[Advice, ...]:
    """Return what is worth doing while the patient is there, best first; empty when enough.

    See `ranking`.
    """
    return ranking(exam, posterior, checks, options=options).advice


def ranking(
    exam: Exam,
    posterior: Belief,
    checks: Sequence[Check] = (),
    *,
    options: RankingOptions | None = None,
) -> Ranking:
    """Rank every repeat by the expected fall of decision loss for each second at the table.

    Parameters
    ----------
    exam : Exam
        The numbers so far.
    posterior : Belief
        The joint belief, as `exam_model.fit` gives it.
    checks : sequence of Check
        What the laws found. A number known to be wrong is mended before others are
        sharpened: the remedy of a failed check comes first, without a gain, unless a ranked
        repeat reads the same number.
    options : RankingOptions, optional

    Returns
    -------
    Ranking

    Notes
    -----
    A repeat is left out when its number was tried often enough, when the decisions it serves
    are settled, or when it gains less than the cost of its time (``[stop]`` of losses.toml).
    """
    options = options or RankingOptions()
    rules = options.losses
    possible = hearts(posterior, options.hearts)
    found = [table(one, exam, possible) for one in rules.decisions]
    tables = [one for one in found if one is not None]
    open_ = [one for one in tables if one.settled < rules.stop.settled]
    worths = tuple(
        _worth(repeat, exam, possible, served, options)
        for repeat in rules.repeats
        if (served := [one for one in open_ if one.decision.id in repeat.serves])
        and _can_be_done(repeat, exam, possible, rules)
    )
    chosen = _in_order(worths, exam, posterior, rules)
    listed = (*_wanted_by_checks(checks, chosen), *_advice(chosen, tables))
    return Ranking(
        advice=tuple(replace(one, rank=rank) for rank, one in enumerate(listed, start=1)),
        sufficiency=_sufficiency(exam, tables, chosen, checks),
        chosen=tuple(chosen),
        worths=worths,
    )


def _can_be_done(repeat: Repeat, exam: Exam, possible: Hearts, rules: Losses) -> bool:
    first = repeat.readings[0]
    if first == CUFF:
        is_there, done = _cuff(exam)
        return (repeat.when == "recorded") == is_there and not done
    if first not in possible:
        return False
    is_there = value_of(exam, first) is not None
    has_needs = all(value_of(exam, name) is not None for name in repeat.needs)
    if (repeat.when == "recorded") != is_there or not has_needs:
        return False
    return tries(exam, first) < rules.stop.tries or repeat.how == "same sweep"


def _cuff(exam: Exam) -> tuple[bool, bool]:
    is_there = exam.visit.systolic_pressure_mmHg is not None
    return is_there, is_there and (
        exam.visit.systolic_pressure_readings or 0
    ) >= ENOUGH_READINGS


def _worth(
    repeat: Repeat,
    exam: Exam,
    possible: Hearts,
    tables: Sequence[Table],
    options: RankingOptions,
) -> Worth:
    seconds = manoeuvre(repeat.manoeuvre).seconds
    left = options.losses.stop.tries - tries(exam, repeat.readings[0])
    most = min(options.ahead, left) if repeat.how == "fresh sweep" else 1
    found = [
        Worth(
            repeat=repeat,
            seconds=seconds,
            by_decision=dict(
                gains(tables, next_readings(repeat, exam, possible, times), options.outer)
            ),
            times=times,
        )
        for times in range(1, max(most, 1) + 1)
    ]
    return max(found, key=lambda one: (one.a_half_minute, -one.times))


def _in_order(
    worths: Sequence[Worth], exam: Exam, posterior: Belief, rules: Losses
) -> list[Worth]:
    cost = rules.stop.cost_of_30_s
    ranked = sorted(worths, key=lambda one: (-one.a_half_minute, one.repeat.id))
    chosen = [one for one in ranked if one.a_half_minute >= cost]
    later = next((one for one in chosen if one.repeat.id == rules.first.before), None)
    earlier = next((one for one in ranked if one.repeat.id == rules.first.repeat), None)
    if later is None or earlier is None or not _goes_first(exam, posterior, rules):
        return chosen
    chosen = [one for one in chosen if one is not earlier]
    chosen.insert(chosen.index(later), earlier)
    return chosen


def _goes_first(exam: Exam, posterior: Belief, rules: Losses) -> bool:
    """Whether a cuff of few readings must be mended before a jet is weighed against it."""
    rule = rules.first
    jet = next((one for one in rules.repeats if one.id == rule.before), None)
    fault = posterior.faults.get(jet.readings[0]) if jet is not None else None
    is_possible = fault is None or fault.unusable < rule.unusable_below
    return is_possible and (exam.visit.systolic_pressure_readings or 0) < rule.readings_below


def _advice(chosen: Sequence[Worth], tables: Sequence[Table]) -> tuple[Advice, ...]:
    questions = {one.decision.id: one.decision.question for one in tables}
    return tuple(
        Advice(
            rank=0,
            action=(
                f"{manoeuvre(one.repeat.manoeuvre).sentence}{_often(one.times)} "
                f"It would help to settle {questions[one.settles]}."
            ),
            about=_about(one.repeat),
            seconds=one.seconds,
            gain=round(one.gain, 4),
        )
        for one in chosen
    )


def _often(times: int) -> str:
    return "" if times == 1 else f" Plan for {times} sweeps: one alone may settle nothing."


def _about(repeat: Repeat) -> tuple[str, ...]:
    first = repeat.readings[0]
    return ("LA", "Ao") if first == RATIO else (first,)


def _wanted_by_checks(checks: Sequence[Check], chosen: Sequence[Worth]) -> tuple[Advice, ...]:
    """Return what failed checks ask for, where no ranked repeat does or reads the same."""
    about = {name for one in chosen for name in _about(one.repeat)}
    done = {manoeuvre(one.repeat.manoeuvre).sentence for one in chosen}
    failed = [check for check in checks if check.verdict is Verdict.FAILS]
    return tuple(
        one
        for one in remedies(failed)
        if not set(one.about) <= about and one.action not in done
    )


def _sufficiency(
    exam: Exam, tables: Sequence[Table], chosen: Sequence[Worth], checks: Sequence[Check]
) -> Sufficiency:
    failed = next((one for one in checks if one.verdict is Verdict.FAILS), None)
    if failed is not None:
        name = failed.about[0] if failed.about else failed.id
        reason = f"{name} does not fit the rest. {_first_part(failed)}"
        return Sufficiency(verdict=NOT_YET, reason=reason)
    if chosen:
        return _worth_doing(exam, max(chosen, key=lambda one: one.gain), tables)
    if exam.patient.weight_kg is None and any(one.settled < SURE for one in tables):
        reason = "The weight was not entered; without it no size can be judged."
        return Sufficiency(verdict=NOT_YET, reason=reason)
    return Sufficiency(verdict=ENOUGH, reason=_why_enough(exam, tables))


def _worth_doing(exam: Exam, best: Worth, tables: Sequence[Table]) -> Sufficiency:
    served = next(one for one in tables if one.decision.id == best.settles)
    question = _sentence_start(served.decision.question)
    if best.repeat.when == "missing":
        reason = f"{question} is open: {' and '.join(_about(best.repeat))} not recorded."
        return Sufficiency(verdict=NOT_YET, reason=reason)
    if served.settled < UNDECIDED and served.read is not None:
        reason = f"{served.read} can be relied on with probability {served.settled:.2f}."
        return Sufficiency(verdict=NOT_YET, reason=reason)
    if served.settled < UNDECIDED:
        reason = f"{question} is not decided by today's images ({served.settled:.2f})."
        return Sufficiency(verdict=NOT_YET, reason=reason)
    return Sufficiency(
        verdict=ONE_MORE,
        reason=(
            f"{_standing(exam, served)}; {best.seconds} s more would lower the expected loss "
            f"by {best.gain:.2f}."
        ),
    )


def _why_enough(exam: Exam, tables: Sequence[Table]) -> str:
    if not tables:
        unknown = "; the species was not entered" if exam.patient.species is None else ""
        return f"Nothing that was recorded leaves a stage or grade open{unknown}."
    least = min(tables, key=lambda one: one.settled)
    if least.settled >= SURE:
        return "Every decision is settled."
    return (
        f"{_standing(exam, least)}; no repeat that is left would change it enough to be worth "
        "its time."
    )


def _standing(exam: Exam, one: Table) -> str:
    """Say how sure a decision is, and what it takes for granted because nobody entered it."""
    if one.read is not None:
        return f"{one.read} can be relied on with probability {one.settled:.2f}"
    visit = exam.visit
    noted = one.decision.noted.items()
    assumed = [limit for limit, name in noted if getattr(visit, name) is None]
    condition = f" if {' and '.join(assumed)}, not entered, meet their limits" * bool(assumed)
    question = _sentence_start(one.decision.question)
    return f"{question}: the likelier answer has probability {one.settled:.2f}{condition}"


def _sentence_start(text: str) -> str:
    return text[0].upper() + text[1:]


def _first_part(check: Check) -> str:
    return check.message.split(". ")[0].rstrip(".") + "."
