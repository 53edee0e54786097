"""``python -m tableside.server.openapi FILE``: the contract, for a client's types."""

import json
import sys
import tempfile
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from tableside.server.shapes.given_and_told import Problem

REFUSALS = {
    "403": "A page of another site asked",
    "404": "There is no such thing",
    "409": "Not now: something changed meanwhile, or the study is still being read",
    "413": "More was sent than is taken at once",
    "421": "Asked under another name than this machine's own",
    "422": "It cannot be done; the detail says why",
}
PROBLEM = "application/problem+json"


def describe(app: FastAPI) -> dict[str, Any]:
    """Return the OpenAPI document: every operation with every refusal as problem JSON."""
    if app.openapi_schema:
        return app.openapi_schema
    document = get_openapi(
        title=app.title, version=app.version, description=app.description, routes=app.routes
    )
    for operations in document["paths"].values():
        for operation in operations.values():
            _add_refusals(operation["responses"])
    schemas = document["components"]["schemas"]
    schemas["Problem"] = Problem.model_json_schema()
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)
    app.openapi_schema = document
    return document


def _add_refusals(responses: dict[str, Any]) -> None:
    for status, meaning in REFUSALS.items():
        given = responses.get(status, {}).get("content", {}).get("application/json", {})
        schema = given.get("schema", {})
        if not schema or "HTTPValidationError" in schema.get("$ref", ""):
            schema = {"$ref": "#/components/schemas/Problem"}
        responses[status] = {"description": meaning, "content": {PROBLEM: {"schema": schema}}}


def main(target: Path) -> None:
    """Write the OpenAPI document."""
    from tableside.server.app import create_app  # noqa: PLC0415  it imports this module
    from tableside.server.settings import Settings  # noqa: PLC0415

    with tempfile.TemporaryDirectory() as folder:
        document = create_app(Settings(data=Path(folder))).openapi()
    target.write_text(json.dumps(document, indent=1, sort_keys=True) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
