"""Doppler numbers on spectra of usual quality, on seeds that nothing was chosen on.

``python -m benchmarks.doppler_usual [COUNT]`` draws COUNT spectra of every flow (default 20)
over rates of 70 to 150, gains of -5 to +6 dB, noise of -18 to -28 dB, three rhythms, JPEG or
not, and prints bias, spread, worst twentieth and how often the 90 % interval holds the truth.
The harder design is ``python -m benchmarks.accuracy --only doppler``.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
from collections import defaultdict

import numpy as np

from tableside.automatic.doppler import RULES, measure_spectrum
from tableside.automatic.ecg import read_ecg
from tableside.model import Axis, Image, Mode, Region, RegionKind
from tableside.phantom.doppler import DopplerPhantom, FlowSpec, spectrum
from tableside.phantom.flow import flow_kind

FIRST_SEED = 90_000
RHYTHMS, OFTEN = ("sinus", "sinus arrhythmia", "premature beats"), (0.5, 0.35, 0.15)


def spec_of(flow: str, seed: int) -> FlowSpec:
    """Return one spectrum of the design."""
    rng = np.random.default_rng(seed)
    return FlowSpec(
        flow=flow,
        heart_rate=float(rng.uniform(70, 150)),
        peaks_m_s=tuple(float(x * rng.uniform(0.7, 1.4)) for x in flow_kind(flow).peaks_m_s),
        deceleration_s=float(rng.uniform(0.06, 0.12)),
        half_time_s=float(rng.uniform(0.2, 0.6)),
        gain_db=float(rng.uniform(-5, 6)),
        dynamic_range_db=float(rng.uniform(30, 50)),
        snr_db=float(rng.uniform(18, 28)),
        broadening=float(rng.uniform(0.015, 0.04)),
        s_per_column=float(rng.choice([0.0025, 0.0035, 0.005])),
        columns=int(rng.choice([700, 900, 1000])),
        rows=int(rng.choice([200, 260, 340])),
        rhythm=str(rng.choice(RHYTHMS, p=OFTEN)),
        jpeg=[None, 85][int(rng.integers(2))],
        clicks=bool(rng.random() < 0.7),
        mirror_db=[None, 28.0][int(rng.integers(2))],
    )


def image_of(drawn: DopplerPhantom, flow: str) -> Image:
    """Return the record that intake would make of a drawn spectrum."""
    rows, columns = drawn.pixels.shape[:2]
    region = Region(
        index=0,
        kind=RegionKind.SPECTRAL,
        box=(0, 0, columns - 1, rows - 1),
        x=Axis(unit="s", per_pixel=drawn.s_per_column, relative_sd=0.0),
        y=Axis(
            unit="m/s",
            per_pixel=-drawn.m_s_per_row,
            origin_px=drawn.baseline_row,
            relative_sd=0.0,
        ),
        wave="continuous" if flow_kind(flow).continuous else "pulsed",
    )
    return Image(
        file="x", mode=Mode.SPECTRAL, rows=rows, columns=columns, regions=(region,), flow=flow
    )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    errors: dict[str, list[float]] = defaultdict(list)
    held: dict[str, list[bool]] = defaultdict(list)
    wanted: dict[str, int] = defaultdict(int)
    for place, flow in enumerate(RULES):
        for number in range(count):
            seed = FIRST_SEED + 1000 * place + number
            drawn = spectrum(spec_of(flow, seed), seed)
            image = image_of(drawn, flow)
            rhythm, _ = read_ecg(image, drawn.pixels)
            found = measure_spectrum(image, drawn.pixels, rhythm).measurements
            for name in drawn.truth:
                wanted[name] += not (name == "AT" and flow == "aortic outflow")
            for one in found:
                if one.quantity in drawn.truth:
                    truth = drawn.truth[one.quantity]
                    errors[one.quantity].append(100 * (one.value / truth - 1))
                    held[one.quantity].append(one.interval90[0] <= truth <= one.interval90[1])
    print(f"{'':8s} {'given':>9s} {'bias %':>7s} {'SD %':>6s} {'worst 5 %':>10s} {'held':>6s}")
    for name, off in errors.items():
        print(
            f"{name:8s} {len(off):4d}/{wanted[name]:4d} {np.mean(off):7.1f} {np.std(off):6.1f} "
            f"{np.quantile(np.abs(off), 0.95):10.1f} {np.mean(held[name]):6.0%}"
        )


if __name__ == "__main__":
    main()
