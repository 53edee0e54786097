"""Read tracings of known truth: ``python -m benchmarks.accuracy [--quick] [--only ...]``."""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from benchmarks.accuracy import families
from benchmarks.accuracy.case import Answer, Case
from benchmarks.accuracy.ecg_score import print_ecg
from benchmarks.accuracy.edge_score import print_edges
from benchmarks.accuracy.real import print_real
from benchmarks.accuracy.table import print_bounds, print_hurts, print_quantities
from benchmarks.accuracy.timing import print_times


def main() -> int:
    """Print the tables; the status is always 0, for figures are to be read."""
    options = _options()
    wanted = options.only or [*families.SIZES, "real", "time"]
    for name in wanted:
        if name == "time":
            print_times()
        elif name == "real":
            print_real(options.sheet)
        else:
            _family(name, options)
    return 0


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.accuracy", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a small design of each family")
    parser.add_argument("--tune", action="store_true", help="the seeds kept for tuning")
    parser.add_argument(
        "--only", nargs="+", choices=[*families.SIZES, "real", "time"], help="these alone"
    )
    parser.add_argument("--flow", help="of the Doppler tracings, this flow alone")
    parser.add_argument("--case", type=int, nargs="+", help="these numbers of the design alone")
    parser.add_argument("--count", type=int, help="tracings a family")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--sheet", type=Path, help="folder for pictures of the worst twenty")
    return parser.parse_args()


def _family(name: str, options: argparse.Namespace) -> None:
    count = options.count or families.SIZES[name][0 if options.quick else 1]
    cases = families.design(name, count, options.tune)
    if not cases:
        print(f"\n{name}: skipped, its data are absent")
        return
    if options.case:
        cases = [case for case in cases if case.number in options.case]
    if options.flow:
        cases = [case for case in cases if case.factors.get("flow") == options.flow]
    outcomes = list(_outcomes(cases, options.jobs))
    rows = [row for one in outcomes for row in one.rows]
    seeds = "tuning" if options.tune else "reporting"
    title = f"{name}: {len(cases)} tracings, {seeds} seeds"
    print_quantities(title, rows)
    print_edges([edge for one in outcomes for edge in one.edges])
    print_ecg([one.ecg for one in outcomes if one.ecg is not None])
    print_bounds(rows)
    print_hurts(name, rows)
    _print_crashes([one.answer for one in outcomes])
    if options.sheet:
        from benchmarks.accuracy.sheet import write_sheets  # noqa: PLC0415

        write_sheets(options.sheet, name, rows)
    sys.stdout.flush()


def _outcomes(cases: list[Case], jobs: int) -> Iterator[families.Outcome]:
    if jobs <= 1:
        yield from map(families.outcome, cases)
        return
    with ProcessPoolExecutor(jobs) as pool:
        yield from pool.map(families.outcome, cases, chunksize=2)


def _print_crashes(answers: list[Answer]) -> None:
    for said, count in Counter(answer.crash for answer in answers if answer.crash).items():
        print(f"  CRASHED {count} times: {said}")


if __name__ == "__main__":
    raise SystemExit(main())
