"""Echocardiographic probability of pulmonary hypertension in dogs.

The peak of the tricuspid jet gives a band; the number of anatomic sites with signs gives the
grade within it. Sites are counted, not signs; a site not looked at is not a site without
signs. An outflow obstruction must be excluded first.

Sources: [reinero2020].
"""

from collections.abc import Sequence
from dataclasses import dataclass

from tableside.conclude.chance import is_decided, likeliest, of_bands
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.guideline import Guideline, guideline
from tableside.conclude.inputs import Input, take
from tableside.model import Check, Exam, Finding

ID = "pulmonary-hypertension"
GRADES = ("low", "intermediate", "high")
VENTRICLES, ARTERY, RIGHT_ATRIUM = (
    "ventricles",
    "pulmonary artery",
    "right atrium and caudal vena cava",
)
ARTERY_SIGNS = ("PA:Ao", "AT:ET", "AT", "PR_Vmax")
VENTRICLE_SIGNS = ("LVIDDN", "TAPSEN")
ENOUGH_SIGNS = 2  # measured and normal, to call the artery free of signs


@dataclass(frozen=True, slots=True)
class Site:
    """One site: the chance of a sign, None when not looked at; the numbers behind it."""

    name: str
    chance: float | None
    used: tuple[Input, ...] = ()
    noted: tuple[str, ...] = ()


def conclude(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the probability class; None where nothing of the right heart was measured."""
    rule = guideline("pulmonary_hypertension")
    jet = take(exam, "TR_Vmax")
    sites = (
        _ventricles(exam, rule),
        _artery(exam, rule),
        _noted_site(exam, rule, RIGHT_ATRIUM),
    )
    if not rule.is_for(exam) or (jet is None and not sites[1].used):
        return None
    used = (*([] if jet is None else [jet]), *(one for site in sites for one in site.used))
    missing = [] if jet is not None else ["TR_Vmax"]
    missing += [site.name for site in sites if site.chance is None]
    probability = {}
    if (obstacle := _obstruction(exam, rule)) is not None:
        statement = f"Not graded: {obstacle}."
    elif jet is None:
        possible = _possible(rule, sites, None)
        statement = (
            "Not graded: no tricuspid jet was recorded. If there was none to measure: "
            f"{_either(possible)} probability."
        )
    else:
        possible = _possible(rule, sites, jet)
        statement = _statement(jet, sites, possible)
        if possible[0][0] == possible[1][0]:
            probability = min((one[1] for one in possible), key=lambda each: max(each.values()))
    return finding(
        rule,
        checks,
        Conclusion(
            id=ID,
            statement=statement,
            used=tuple(used),
            probability=probability,
            missing=tuple(missing),
            noted=tuple(text for site in sites for text in site.noted),
            cautions=_cautions(exam, rule),
        ),
    )


def grade(rule: Guideline, jet_m_s: float | None, sites: int) -> str:
    """Return the class of a tricuspid jet (None: none to measure) and a number of sites."""
    band = rule.bands["TR_Vmax"]
    label = band.labels[0] if jet_m_s is None else band.label(jet_m_s)
    return rule.grades[label][sites]


Possible = tuple[str, dict[str, float]]


def _possible(rule: Guideline, sites: Sequence[Site], jet: Input | None) -> list[Possible]:
    """Return the likeliest class and all, with unseen sites free of signs, then all with."""
    band = rule.bands["TR_Vmax"]
    by_band = {band.labels[0]: 1.0}
    if jet is not None:
        by_band = of_bands(band.edges, band.labels, jet.value, jet.sd)
    found = []
    for unseen in (0.0, 1.0):
        counts = [1.0, 0.0, 0.0, 0.0]
        for site in sites:
            p = unseen if site.chance is None else site.chance
            counts = [
                (1 - p) * have + p * (counts[at - 1] if at else 0.0)
                for at, have in enumerate(counts)
            ]
        shares = dict.fromkeys(GRADES, 0.0)
        for label, share in by_band.items():
            for at, part in enumerate(counts):
                shares[rule.grades[label][at]] += share * part
        found.append((likeliest(shares)[0], shares))
    return found


def _statement(jet: Input, sites: Sequence[Site], possible: list[Possible]) -> str:
    bound = "at least " if jet.is_lower_bound else ""
    with_signs = sum((site.chance or 0.0) > 0.5 for site in sites)
    seen = sum(site.chance is not None for site in sites)
    base = (
        f"tricuspid jet {bound}{jet.value:.1f} m/s, signs at {with_signs} of {seen} sites seen"
    )
    if possible[0][0] != possible[1][0]:
        unseen = [site.name for site in sites if site.chance is None]
        return (
            f"{_either(possible).capitalize()} probability, depending on sites not looked at: "
            f"{'; '.join(unseen)} ({base})."
        )
    shares = min((one[1] for one in possible), key=lambda each: max(each.values()))
    label, share = likeliest(shares)
    if not is_decided(share):
        second = sorted(shares, key=lambda each: -shares[each])[1]
        pair = sorted((label, second), key=GRADES.index)
        return f"{' or '.join(pair).capitalize()}: not decided by today's images ({base})."
    return f"{label.capitalize()} probability of pulmonary hypertension ({base})."


def _either(possible: list[Possible]) -> str:
    return " to ".join(dict.fromkeys(label for label, _ in possible))


def _artery(exam: Exam, rule: Guideline) -> Site:
    used, chances = _signs(exam, rule, ARTERY_SIGNS)
    positive = max(chances, default=0.0)
    is_known = positive > 0.5 or len(used) >= ENOUGH_SIGNS
    return Site(ARTERY, positive if is_known else None, used)


def _ventricles(exam: Exam, rule: Guideline) -> Site:
    noted = _noted_site(exam, rule, VENTRICLES)
    if noted.chance is not None:
        return noted
    used, chances = _signs(exam, rule, VENTRICLE_SIGNS)
    positive = max(chances, default=0.0)
    if positive <= 0.5:
        return Site(VENTRICLES, None)
    return Site(VENTRICLES, positive, used)


def _signs(
    exam: Exam, rule: Guideline, names: Sequence[str]
) -> tuple[tuple[Input, ...], list[float]]:
    used = tuple(
        one
        for name in names
        if (one := take(exam, name)) is not None and not (name == "AT" and _is_aortic(exam))
    )
    return used, [rule.limits[one.name].chance(one.value, one.sd) for one in used]


def _is_aortic(exam: Exam) -> bool:
    measured = exam.measurement("AT")
    files = () if measured is None else measured.files
    return any((image := exam.image(file)) and image.flow == "aortic outflow" for file in files)


def _noted_site(exam: Exam, rule: Guideline, name: str) -> Site:
    found: dict[str, float] = {}
    for sign in exam.visit.signs:
        text = sign.lower().strip()
        for words, site in rule.words.items():
            if site == name and words in text:
                found[sign] = 0.0 if text.startswith("no ") else 1.0
    chance = max(found.values()) if found else None
    return Site(name, chance, noted=tuple(found))


def _obstruction(exam: Exam, rule: Guideline) -> str | None:
    gradient = take(exam, "PV_PG")
    if gradient is None or not rule.limits["outflow"].is_met(gradient.value):
        return None
    return (
        f"a pulmonic gradient of {gradient.value:.0f} mmHg; behind an obstruction the "
        "tricuspid jet does not show the pressure of the artery"
    )


def _cautions(exam: Exam, rule: Guideline) -> tuple[str, ...]:
    cautions = []
    if take(exam, "PV_PG") is None:
        cautions.append("Pulmonic outflow was not measured: an obstruction is not excluded.")
    atrium = take(exam, "LA:Ao")
    if atrium is not None and rule.limits["LA:Ao"].is_met(atrium.value):
        cautions.append("The left atrium is enlarged: left heart disease may be the cause.")
    return tuple(cautions)
