"""Processor time to trace one picture, on one thread: the best of several runs."""

from collections.abc import Iterator

from benchmarks.accuracy import doppler_cases, mmode_cases
from benchmarks.accuracy.case import Case, Tracing, read

RUNS = 5
LIMITS_MS = {"500 x 1000 M-mode": 100.0, "260 x 1000 spectrum": 60.0}
MMODE = {name: levels[0] for name, levels in mmode_cases.LEVELS.items()} | {
    "weight": "15 kg", "gain": "0 dB", "rows": "500", "columns": "1000", "rate": "110",
    "sweep": "100 mm/s", "false lines": "chorda", "range": "55 dB",
}  # fmt: skip
SPECTRUM = {name: levels[0] for name, levels in doppler_cases.LEVELS.items()} | {
    "gain": "0 dB", "rows": "260", "columns": "1000", "rate": "110", "sweep": "100 mm/s",
    "range": "36 dB", "strength": "1",
}  # fmt: skip


def print_times() -> None:
    """Print the time of each picture beside its limit."""
    print("\nProcessor time of one tracing without its ECG, one thread, best of five")
    for name, milliseconds in _times():
        limit = LIMITS_MS[name]
        verdict = "PASS" if milliseconds <= limit else "PAST"
        print(f"  {name:20} {milliseconds:6.0f} ms   limit {limit:.0f} ms   {verdict}")


def _times() -> Iterator[tuple[str, float]]:
    pictures: tuple[Tracing, ...] = (
        mmode_cases.make(Case(family="left ventricle", number=0, seed=41, factors=MMODE)),
        doppler_cases.make(Case(family="doppler", number=0, seed=42, factors=SPECTRUM)),
    )
    for name, tracing in zip(LIMITS_MS, pictures, strict=True):
        yield name, 1000 * min(read(tracing).seconds for _ in range(RUNS))
