"""Files as they came: numbered on the disk, named in the manifest alone."""

from pathlib import Path

import pytest

from tableside.errors import NotFound
from tableside.model import Rejected
from tableside.store.originals import Damaged, StudyStore


@pytest.fixture
def store(tmp_path: Path) -> StudyStore:
    return StudyStore(tmp_path)


def given(store: StudyStore, **contents: bytes) -> list[tuple[str, Path]]:
    folder = store.scratch()
    found = []
    for number, (name, content) in enumerate(contents.items()):
        path = folder / str(number)
        path.write_bytes(content)
        found.append((name, path))
    return found


def test_the_same_contents_make_the_same_study(store: StudyStore) -> None:
    first, is_new = store.add(given(store, a=b"1", b=b"2"))
    again, is_new_again = store.add(given(store, other=b"2", names=b"1"))
    assert (first, is_new, is_new_again) == (again, True, False)
    assert store.ids() == [first]


def test_no_name_of_a_file_becomes_a_path(store: StudyStore) -> None:
    files = [("../../up", given(store, x=b"1")[0][1]), ("/etc/x", given(store, y=b"2")[0][1])]
    study, _ = store.add(files)
    kept = sorted(path.name for path in (store.folder(study) / "originals").iterdir())
    assert kept == ["00000", "00001"]
    assert {name for name, _ in store.originals(study).named()} == {"../../up", "/etc/x"}


def test_what_was_refused_is_remembered(store: StudyStore) -> None:
    refused = Rejected(file="x.exe", reason="not an image")
    study, _ = store.add(given(store, a=b"1"), [refused])
    assert store.originals(study).rejected == (refused,)


def test_a_file_that_changed_on_the_disk_is_noticed(store: StudyStore) -> None:
    study, _ = store.add(given(store, a=b"1"))
    originals = store.originals(study)
    originals.require_intact()
    next(iter(originals.named()))[1].write_bytes(b"2")
    with pytest.raises(Damaged, match="a is missing or has changed"):
        originals.require_intact()


@pytest.mark.parametrize("study", ["..", "../../etc", "0" * 15, "0" * 16, "G" * 16, ""])
def test_an_id_that_is_none_leads_nowhere(store: StudyStore, study: str) -> None:
    with pytest.raises(NotFound):
        store.folder(study)


def test_what_a_crash_left_half_done_is_done_again(store: StudyStore) -> None:
    study, _ = store.add(given(store, a=b"1"))
    (store.folder(study) / "originals.json").unlink()
    assert store.ids() == []
    assert store.add(given(store, a=b"1")) == (study, True)
    store.originals(study).require_intact()
