"""A desk over the phantom demo study."""

import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from tableside import reading
from tableside.intake import OpenedStudy
from tableside.model import Image
from tableside.phantom.study import demo_study
from tableside.reading import Looked
from tableside.server import looks
from tableside.server.app import create_app
from tableside.server.settings import Settings


@dataclass
class DeskClient:
    """A browser on the desk."""

    http: TestClient
    study: str
    data: Path

    def get(self, path: str = "", **more: Any) -> Any:
        answer = self.http.get(f"/api/studies/{self.study}{path}", **more)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def edit(
        self, kind: str, base: int | None = None, who: str = "anna", **payload: Any
    ) -> Any:
        answer = self.try_edit(kind, base, who, **payload)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def try_edit(
        self, kind: str, base: int | None = None, who: str = "anna", **payload: Any
    ) -> Any:
        base = self.get()["version"] if base is None else base
        body = {"base_version": base, "who": who, "kind": kind, "payload": payload}
        return self.http.post(f"/api/studies/{self.study}/edits", json=body)

    def preview(self, kind: str, **payload: Any) -> Any:
        body = {"base_version": 0, "who": "anna", "kind": kind, "payload": payload}
        answer = self.http.post(f"/api/studies/{self.study}/preview", json=body)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def number(self, id_: str) -> Any:
        found = {one["id"]: one for one in self.get()["reading"]["measurements"]}
        return found.get(id_)

    def index(self, name: str) -> Any:
        found = {one["name"]: one for one in self.get()["reading"]["indices"]}
        return found.get(name)


def wait_until_read(http: TestClient, study: str) -> dict[str, Any]:
    for _ in range(600):
        state: dict[str, Any] = http.get(f"/api/studies/{study}").json()
        if state["status"] != "reading":
            return state
        time.sleep(0.05)
    raise AssertionError("the study was not read within half a minute")


def open_desk(data: Path) -> Iterator[TestClient]:
    app = create_app(Settings(data=data))
    with TestClient(app, base_url="http://127.0.0.1:8400") as http:
        yield http


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "study"
    demo_study(folder)
    return folder


@pytest.fixture(scope="session")
def demo_files(demo_folder: Path) -> list[tuple[str, tuple[str, bytes]]]:
    return [
        ("files", (f"study/{path.name}", path.read_bytes()))
        for path in sorted(demo_folder.iterdir())
    ]


@pytest.fixture(scope="session")
def kept_demo(
    tmp_path_factory: pytest.TempPathFactory,
    demo_files: list[tuple[str, tuple[str, bytes]]],
) -> tuple[Path, str]:
    """A data folder that holds the demo study without edits; copied for every test."""
    data = tmp_path_factory.mktemp("kept")
    for http in open_desk(data):
        answer = http.post("/api/studies", files=demo_files)
        assert answer.status_code == 202, answer.text
        study = answer.json()["id"]
        assert wait_until_read(http, study)["status"] == "ready"
    return data, study


@pytest.fixture(scope="session")
def looks_remembered() -> Iterator[None]:
    """Looking at an image depends on its record alone: once for all tests is enough."""
    known: dict[Image, Looked] = {}

    def remembered(opened: OpenedStudy, image: Image) -> Looked:
        if image not in known:
            known[image] = reading.look(opened, image)
        return known[image]

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(looks, "look", remembered)
        yield


@pytest.fixture
def desk(
    looks_remembered: None, kept_demo: tuple[Path, str], tmp_path: Path
) -> Iterator[DeskClient]:
    """A desk of its own for a test that edits."""
    kept, study = kept_demo
    data = tmp_path / "data"
    shutil.copytree(kept, data)
    for http in open_desk(data):
        wait_until_read(http, study)
        yield DeskClient(http, study, data)


@pytest.fixture(scope="module")
def still_desk(
    looks_remembered: None,
    kept_demo: tuple[Path, str],
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[DeskClient]:
    """A desk for tests that only look."""
    kept, study = kept_demo
    data = tmp_path_factory.mktemp("still") / "data"
    shutil.copytree(kept, data)
    for http in open_desk(data):
        wait_until_read(http, study)
        yield DeskClient(http, study, data)
