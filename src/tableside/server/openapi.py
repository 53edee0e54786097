"""``python -m tableside.server.openapi FILE``: the contract, for a client's types."""

import json
import sys
import tempfile
from pathlib import Path

from tableside.server.app import create_app
from tableside.server.settings import Settings


def main(target: Path) -> None:
    """Write the OpenAPI document."""
    with tempfile.TemporaryDirectory() as folder:
        document = create_app(Settings(data=Path(folder))).openapi()
    target.write_text(json.dumps(document, indent=1, sort_keys=True) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
