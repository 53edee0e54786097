"""The API against its own description: whatever is sent, no answer breaks or says otherwise."""

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from tests.server.conftest import wait_until_read

from tableside.server.app import create_app
from tableside.server.desk import Desk
from tableside.server.settings import Settings

CHECKS = (
    not_a_server_error,
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
ENDLESS = "/events"  # a stream without an end


def operations() -> list[tuple[str, str]]:
    with tempfile.TemporaryDirectory() as folder:
        paths = create_app(Settings(data=Path(folder))).openapi()["paths"]
    return [(one, path) for path, all_ in paths.items() for one in all_ if ENDLESS not in path]


OPERATIONS = operations()


@pytest.fixture(scope="module")
def described(
    looks_remembered: None,
    kept_demo: tuple[Path, str],
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[schemathesis.BaseSchema, str]]:
    kept, study = kept_demo
    data = tmp_path_factory.mktemp("described") / "data"
    shutil.copytree(kept, data)
    app = create_app(Settings(data=data, hosts=frozenset({"127.0.0.1", "testserver"})))
    with (
        pytest.MonkeyPatch.context() as patched,
        TestClient(app, base_url="http://127.0.0.1:8400") as http,
    ):
        patched.setattr(Desk, "close", lambda _: None)  # the tool ends the app at each request
        wait_until_read(http, study)
        yield schemathesis.openapi.from_asgi("/api/openapi.json", app), study
    app.state.desk.close()


@pytest.mark.parametrize(("method", "path"), OPERATIONS)
def test_nothing_that_is_sent_breaks_it(
    described: tuple[schemathesis.BaseSchema, str], method: str, path: str
) -> None:
    schema, study = described

    @settings(
        max_examples=40,
        deadline=None,
        derandomize=True,
        database=None,
        phases=(Phase.explicit, Phase.generate),
        suppress_health_check=list(HealthCheck),
    )
    @given(case=schema[path][method].as_strategy())
    def send(case: schemathesis.Case) -> None:
        if "study" in case.path_parameters and len(case.path_parameters["study"]) == 16:
            case.path_parameters["study"] = study
        if isinstance(case.body, dict) and "base_version" in case.body:
            case.body["base_version"] = 0
        case.call_and_validate(checks=CHECKS)

    send()
