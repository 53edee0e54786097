"""Fixtures that every suite may use."""

from pathlib import Path

import pytest

SHARED = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder of real ultrasound files beside the checkout."""
    if not SHARED.is_dir():
        pytest.skip("needs the folder shared/data beside the checkout (real ultrasound files)")
    return SHARED
