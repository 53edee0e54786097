"""The benchmarks lie beside the package, not in it: let these tests import them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
