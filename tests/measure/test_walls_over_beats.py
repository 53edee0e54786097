"""Walls over beats, from lines whose sizes are known because they were drawn by formula."""

import re

import numpy as np
import pytest

from tableside.errors import NotMeasurable
from tableside.measure.curves import local_fit, lowest
from tableside.measure.moment import EdgeRows, Place
from tableside.measure.valves import measure_epss, measure_root_and_atrium
from tableside.measure.wall_beats import WallRows
from tableside.measure.walls import WallReading, measure_walls
from tableside.model import Axis, Region, RegionKind, Rhythm, RWave

COLUMNS, S_PER_COLUMN, CM_PER_ROW, BEAT_S = 800, 0.004, 0.02, 0.5
LEFT, TOP = 30, 20
D_CM, S_CM = 4.0, 2.6


def place(relative_sd: float = 0.0) -> Place:
    region = Region(
        index=2,
        kind=RegionKind.M_MODE,
        box=(LEFT, TOP, LEFT + COLUMNS - 1, TOP + 399),
        x=Axis(unit="s", per_pixel=S_PER_COLUMN),
        y=Axis(unit="cm", per_pixel=CM_PER_ROW, relative_sd=relative_sd),
    )
    return Place(file="a.dcm", frame=0, region=region, left=LEFT, top=TOP)


def rhythm(reasons: dict[int, str] | None = None) -> Rhythm:
    """R waves 20 ms after each largest cavity: the QRS begins there."""
    waves = tuple(
        RWave(
            column=LEFT + (0.1 + k * BEAT_S + 0.02) / S_PER_COLUMN,
            time_s=0.12 + k * BEAT_S,
            reason=(reasons or {}).get(k),
        )
        for k in range(6)
    )
    return Rhythm(r_waves=waves)


def walls(cavity_cm: np.ndarray | None = None, noise_cm: float = 0.0) -> WallRows:
    time_s = np.arange(COLUMNS) * S_PER_COLUMN
    squeeze = 0.5 - 0.5 * np.cos(2 * np.pi * (time_s - 0.1) / BEAT_S)
    cavity = D_CM + (S_CM - D_CM) * squeeze if cavity_cm is None else cavity_cm
    right = np.full(COLUMNS, 1.5)
    left = right + 0.8 + 0.3 * squeeze
    endocardium = left + cavity
    epicardium = endocardium + 0.7 + 0.4 * squeeze
    rows = np.stack([right, left, endocardium, epicardium, left + 0.1]) / CM_PER_ROW
    rows += np.random.default_rng(7).normal(0, noise_cm / CM_PER_ROW, rows.shape)
    return WallRows(
        lines=EdgeRows(
            rows=rows,
            sd=np.full(rows.shape, 0.5),
            clear=np.ones(rows.shape, dtype=np.bool_),
        ),
        second=np.full(COLUMNS, np.nan),
    )


def sizes(reading: WallReading) -> dict[str, float]:
    return {one.quantity: one.value for one in reading.measurements}


def test_six_sizes_are_those_that_were_drawn() -> None:
    found = sizes(measure_walls(walls(), rhythm(), place()))
    drawn = {"IVSd": 0.8, "IVSs": 1.1, "LVIDd": 4.0, "LVIDs": 2.6, "LVPWd": 0.7, "LVPWs": 1.1}
    assert found == pytest.approx(drawn, abs=0.02)


def test_the_smallest_cavity_is_not_the_least_of_the_noise() -> None:
    found = sizes(measure_walls(walls(noise_cm=0.08), rhythm(), place()))
    # the least of 20 columns around the minimum would lie about 1.9 sd, 0.2 cm, too low
    assert found["LVIDs"] == pytest.approx(S_CM, abs=0.05)


def test_the_inner_edge_gives_a_smaller_cavity_and_a_thicker_septum() -> None:
    reading = measure_walls(walls(), rhythm(), place())
    by = {one.quantity: one for one in reading.measurements}
    # Sahn 1978: the two conventions differ by the thickness of the septal echo, here 0.1 cm
    assert by["LVIDd"].edges["inner edge"] == pytest.approx(by["LVIDd"].value - 0.1)
    assert by["IVSd"].edges["inner edge"] == pytest.approx(by["IVSd"].value + 0.1)
    assert by["LVIDd"].convention == "leading edge" and by["LVIDd"].scale == "a.dcm#2"


def test_points_stand_in_one_column_and_span_the_value() -> None:
    (one, *_) = measure_walls(walls(), rhythm(), place()).measurements
    for beat in one.beats:
        (x0, y0), (x1, y1) = beat.points
        assert x0 == x1 and (y1 - y0) * CM_PER_ROW == pytest.approx(beat.value)
        assert beat.time_s == pytest.approx((x0 - LEFT) * S_PER_COLUMN)


def test_partial_beats_are_left_out_and_marked_beats_are_kept_with_their_reason() -> None:
    reading = measure_walls(walls(), rhythm({1: "premature"}), place())
    beats = reading.measurements[0].beats
    assert len(beats) == 5  # six R waves
    assert [beat.reason for beat in beats] == [None, "premature", None, None, None]
    assert [beat.used for beat in beats] == [True, False, True, True, True]


def test_a_cavity_larger_in_systole_is_said_and_not_reported() -> None:
    time_s = np.arange(COLUMNS) * S_PER_COLUMN
    odd = 3.0 + 0.5 * np.exp(-(((time_s - 0.1) % BEAT_S - 0.25) ** 2) / 0.02)
    reading = measure_walls(walls(odd), rhythm(), place())
    assert not {"LVIDd", "LVIDs"} & sizes(reading).keys()
    assert any("larger than LVIDd" in note for note in reading.notes)


def test_beats_with_a_line_before_the_wall_are_set_aside() -> None:
    drawn = walls()
    rows = drawn.lines.rows.copy()
    rows[2, 380:520] -= 0.4 / CM_PER_ROW  # the fourth beat: 0.4 cm before the endocardium
    lines = EdgeRows(rows=rows, sd=drawn.lines.sd, clear=drawn.lines.clear)
    reading = measure_walls(WallRows(lines=lines, second=drawn.second), rhythm(), place())
    cavity = next(one for one in reading.measurements if one.quantity == "LVIDd")
    aside = [beat for beat in cavity.beats if not beat.used]
    assert aside and all("papillary" in (beat.reason or "") for beat in aside)
    assert cavity.value == pytest.approx(D_CM, abs=0.02)


@pytest.mark.parametrize(
    ("line", "shift_cm", "aside", "said"),
    [(2, 0.6, {"LVPWd", "LVID"}, "too thin"), (3, 1.4, {"LVPWd"}, "too thick")],
)
def test_a_free_wall_that_the_septum_denies_is_set_aside_in_that_beat(
    line: int, shift_cm: float, aside: set[str], said: str
) -> None:
    # half and twice the septum: what asymmetric walls of animals do not reach (memory)
    drawn = walls()
    rows = drawn.lines.rows.copy()
    rows[line, 380:420] += shift_cm / CM_PER_ROW  # at the onset of the fourth beat
    lines = EdgeRows(rows=rows, sd=drawn.lines.sd, clear=drawn.lines.clear)
    reading = measure_walls(WallRows(lines=lines, second=drawn.second), rhythm(), place())
    for one in reading.measurements:
        reasons = [beat.reason or "" for beat in one.beats if not beat.used]
        is_aside = one.quantity == "LVPWd" or (one.quantity == "LVIDd" and "LVID" in aside)
        assert any(said in reason for reason in reasons) == is_aside, one.quantity
    assert sizes(reading)["LVPWd"] == pytest.approx(0.7, abs=0.02)


def test_a_second_line_is_told_with_the_number_it_would_give() -> None:
    drawn = walls()
    second = drawn.lines.rows[2] - 0.3 / CM_PER_ROW
    reading = measure_walls(WallRows(lines=drawn.lines, second=second), rhythm(), place())
    cavity = next(one for one in reading.measurements if one.quantity == "LVIDd")
    (told,) = re.findall(r"(\d\.\d\d) cm there", cavity.notes[0])
    assert float(told) == pytest.approx(3.7, abs=0.02)


def test_edges_that_are_not_clear_are_not_reported() -> None:
    drawn = walls()
    clear = drawn.lines.clear.copy()
    clear[3] = False
    lines = EdgeRows(rows=drawn.lines.rows, sd=drawn.lines.sd, clear=clear)
    reading = measure_walls(WallRows(lines=lines, second=drawn.second), rhythm(), place())
    assert sizes(reading).keys() == {"IVSd", "IVSs", "LVIDd", "LVIDs"}
    assert any("LVPWd" in note and "not clear" in note for note in reading.notes)


def test_a_tracing_without_a_complete_beat_is_not_measured() -> None:
    with pytest.raises(NotMeasurable, match="longer sweep"):
        measure_walls(walls(), Rhythm(r_waves=rhythm().r_waves[:1]), place())


def test_the_scale_of_the_image_is_in_the_spread() -> None:
    reading = measure_walls(walls(), rhythm(), place(relative_sd=0.01))
    cavity = next(one for one in reading.measurements if one.quantity == "LVIDd")
    assert cavity.spread.calibration == pytest.approx(0.01 * cavity.value)


def test_epss_is_the_nearest_approach_before_the_atrium_contracts() -> None:
    time_s = np.arange(COLUMNS) * S_PER_COLUMN
    phase = (time_s - 0.12) % BEAT_S
    early = np.exp(-(((phase - 0.30) / 0.03) ** 2))
    late = np.exp(-(((phase - 0.46) / 0.02) ** 2))
    gap = 2.0 - 1.5 * early - 1.7 * late  # the atrial opening comes nearer: not the E point
    rows = np.stack([np.full(COLUMNS, 2.0), 2.0 + gap]) / CM_PER_ROW
    lines = EdgeRows(rows=rows, sd=np.full(rows.shape, 0.5), clear=np.ones(rows.shape, bool))
    room = np.full(COLUMNS, 3.5 / CM_PER_ROW)
    assert measure_epss(lines, rhythm(), place(), room).value == pytest.approx(0.5, abs=0.03)
    with pytest.raises(NotMeasurable, match="posterior leaflet"):
        measure_epss(lines, rhythm(), place(), 0.25 * room)


@pytest.mark.parametrize(("atrium_cm", "said"), [(0.7, "cannot both"), (9.0, "cannot both")])
def test_an_atrium_that_no_aorta_goes_with_is_not_reported(atrium_cm: float, said: str) -> None:
    rows = np.stack([np.full(COLUMNS, at) for at in (2.0, 3.8, 3.8 + atrium_cm)]) / CM_PER_ROW
    lines = EdgeRows(rows=rows, sd=np.full(rows.shape, 0.5), clear=np.ones(rows.shape, bool))
    with pytest.raises(NotMeasurable, match=said):
        measure_root_and_atrium(lines, rhythm(), place())


def test_aorta_at_the_qrs_and_atrium_at_its_largest() -> None:
    time_s = np.arange(COLUMNS) * S_PER_COLUMN
    fill = 0.5 - 0.5 * np.cos(2 * np.pi * (time_s - 0.1) / BEAT_S)
    rows = np.stack([np.full(COLUMNS, 2.0), 3.8 + 0.1 * fill, 5.6 + 0.5 * fill]) / CM_PER_ROW
    lines = EdgeRows(rows=rows, sd=np.full(rows.shape, 0.5), clear=np.ones(rows.shape, bool))
    aorta, atrium = measure_root_and_atrium(lines, rhythm(), place())
    assert (aorta.value, atrium.value) == pytest.approx((1.8, 2.2), abs=0.02)
    assert aorta.detail == atrium.detail == "m-mode"


def test_a_parabola_is_read_exactly() -> None:
    columns = np.arange(60.0)
    line = 3.0 + 0.02 * (columns - 31.3) ** 2
    assert lowest(line, 10, 50, 6) == pytest.approx(31.3, abs=0.01)
    assert local_fit(line, 20.5, 5).value(20.5) == pytest.approx(3.0 + 0.02 * 10.8**2)
