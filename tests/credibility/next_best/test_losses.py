"""The file of losses: what ships is sound, and a practice's own is read strictly."""

from importlib.resources import files
from pathlib import Path

import pytest

from tableside.credibility.manoeuvres import manoeuvres
from tableside.credibility.next_best import losses
from tableside.errors import InputError

SHIPPED = (files("tableside") / "data" / "losses.toml").read_text(encoding="utf-8")


def written(folder: Path, old: str, new: str) -> Path:
    assert old in SHIPPED
    path = folder / "own.toml"
    path.write_text(SHIPPED.replace(old, new, 1), encoding="utf-8")
    return path


def test_a_missed_disease_costs_four_false_labels_unless_a_practice_says_otherwise(
    tmp_path: Path,
) -> None:
    stage = losses().decisions[0]
    assert (stage.id, stage.missed, stage.false) == ("mitral-stage", 4.0, 1.0)
    own = losses(written(tmp_path, "missed = 4.0", "missed = 9.0"))
    assert own.decisions[0].missed == 9.0


def test_every_decision_can_be_served_and_every_repeat_serves() -> None:
    served = {name for one in losses().repeats for name in one.serves}
    assert served == {one.id for one in losses().decisions}
    assert all(one.serves and one.manoeuvre in manoeuvres() for one in losses().repeats)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('rule = "grades"', 'rule = "guess"', "pulmonary-hypertension has rule 'guess'"),
        ('how = "same sweep"', 'how = "magic"', "beats-left-ventricle has how 'magic'"),
        ("missed = 4.0", "missed = -1.0", "a cost is below 0"),
        ("settled = 0.95", "settled = 0.2", "settled = 0.2"),
        ("settled = 0.95", "sure = 0.95", "sure"),
        ('manoeuvre = "m-mode-level"', 'manoeuvre = "dance"', "no manoeuvre 'dance'"),
        ('serves = ["mitral-stage"]', 'serves = ["nothing"]', "serves ['nothing']"),
        ("[first]", "[second]", "it needs"),
        ("cost_of_30_s = 0.01", "cost_of_30_s = ", "own.toml"),
        ("tolerance = 0.2", "tolerances = 0.2", "unknown keys ['tolerances']"),
    ],
)
def test_a_wrong_entry_is_named_in_one_sentence(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    with pytest.raises(InputError) as caught:
        losses(written(tmp_path, old, new))
    assert said in str(caught.value)


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        losses(tmp_path / "none.toml")
