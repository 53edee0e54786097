"""Several images to one number: what is averaged, what is chosen, and what stays visible."""

from dataclasses import replace
from math import hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tableside.measure.combine import combine
from tableside.model import Beat, Measurement, Spread, quantity


def one(quantity_id: str, value: float, file: str, **fields: object) -> Measurement:
    return Measurement(
        **{
            "quantity": quantity_id,
            "value": value,
            "unit": quantity(quantity_id).unit,
            "spread": Spread(trace=0.03 * value, calibration=0.005 * value),
            "method": "automatic",
            "beats": (Beat(file=file, frame=0, value=value, sd=0.03 * value),),
            "scale": f"{file}#0",
            **fields,
        }
    )


def spread(**parts: float) -> Spread:
    return Spread(**parts)


def test_one_measurement_alone_is_left_as_it_is() -> None:
    alone = one("LVIDd", 3.5, "a.dcm")
    assert combine([alone]) == (alone,)


def test_numbers_of_different_kinds_are_never_mixed() -> None:
    given_ = [
        one("LA", 2.0, "a.dcm"),
        one("LA", 2.2, "b.dcm", detail="m-mode"),
        one("LA", 2.4, "c.dcm", method="caliper"),
        one("LVIDd", 3.5, "a.dcm", convention="leading edge"),
        one("LVIDd", 3.4, "b.dcm", convention="inner edge"),
    ]
    assert {m.value for m in combine(given_)} == {m.value for m in given_}


def test_a_mean_weighs_by_one_over_the_variance() -> None:
    # Two readings with sd 1 and 2: weights 4/5 and 1/5, sd of the mean 2 / sqrt 5 (Gauss)
    exact = one("DT", 100.0, "a.dcm", spread=spread(trace=1.0))
    rough = one("DT", 101.0, "b.dcm", spread=spread(trace=2.0))
    (mean,) = combine([exact, rough])
    assert mean.value == pytest.approx(100.2)
    assert mean.spread.trace == pytest.approx(2 / sqrt(5))


def test_two_equal_sweeps_that_agree_share_the_acquisition_spread() -> None:
    # variance between sweeps: three prior sweeps and two that agree, (3 s^2 + 0) / 4, halved
    sweeps = [
        one("LVIDd", 3.5, file, spread=spread(trace=0.1, acquisition=0.2, reading=0.1))
        for file in ("a.dcm", "b.dcm")
    ]
    (mean,) = combine(sweeps)
    assert mean.spread.acquisition == pytest.approx(0.2 * sqrt(3 / 4) / sqrt(2))
    assert mean.spread.reading == pytest.approx(0.1)  # the same reader read both


def test_sweeps_that_disagree_keep_a_large_acquisition_spread() -> None:
    sweeps = [
        one("LVIDd", value, f"{value}.dcm", spread=spread(trace=0.1, acquisition=0.15))
        for value in (3.0, 4.5)
    ]
    (mean,) = combine(sweeps)
    assert mean.spread.acquisition > 0.15


def test_two_pictures_of_one_file_are_one_sweep() -> None:
    pictures = [
        one("LVIDd", 3.5, "a.dcm", scale=scale, spread=spread(trace=0.1, acquisition=0.2))
        for scale in ("a.dcm#0", "a.dcm#1")
    ]
    (mean,) = combine(pictures)
    assert mean.spread.acquisition == pytest.approx(0.2)


def test_one_scale_is_kept_and_its_error_does_not_shrink() -> None:
    same = [
        one("LVIDd", 3.5, "a.dcm", spread=spread(trace=0.1, calibration=0.02)) for _ in range(2)
    ]
    (mean,) = combine(same)
    assert mean.scale == "a.dcm#0"
    assert mean.spread.calibration == pytest.approx(0.02)


def test_different_scales_are_not_named_and_their_errors_shrink() -> None:
    different = [
        one("LVIDd", 3.5, file, spread=spread(trace=0.1, calibration=0.02))
        for file in ("a.dcm", "b.dcm")
    ]
    (mean,) = combine(different)
    assert mean.scale is None
    assert mean.spread.calibration == pytest.approx(0.02 / sqrt(2))


def test_the_fastest_complete_envelope_stands_for_the_jet() -> None:
    # cos(angle) can only slow a jet: the fastest window is the best aligned (Doppler)
    slow, fast = one("MR_Vmax", 4.1, "a.dcm"), one("MR_Vmax", 5.4, "b.dcm")
    (jet,) = combine([slow, fast])
    assert (jet.value, jet.bound, jet.files) == (5.4, None, ("b.dcm",))
    assert [beat.used for beat in jet.beats] == [False, True]
    assert jet.beats[0].reason == "b.dcm shows a faster envelope, 5.40 m/s"


def test_an_incomplete_envelope_is_used_only_when_no_complete_one_exists() -> None:
    incomplete = one("MR_Vmax", 4.6, "a.dcm", bound="lower")
    (jet,) = combine([incomplete, one("MR_Vmax", 4.5, "b.dcm")])
    assert (jet.value, jet.bound) == (4.5, None)
    assert jet.beats[0].reason == "the envelope is incomplete; b.dcm shows a complete one"
    (jet,) = combine([incomplete, one("MR_Vmax", 3.9, "b.dcm", bound="lower")])
    assert (jet.value, jet.bound) == (4.6, "lower")


def test_an_incomplete_envelope_that_is_clearly_faster_makes_the_peak_a_lower_bound() -> None:
    (jet,) = combine(
        [one("TR_Vmax", 4.4, "a.dcm", bound="lower"), one("TR_Vmax", 3.0, "b.dcm")]
    )
    assert (jet.value, jet.bound) == (3.0, "lower")
    assert jet.notes == (
        "an incomplete envelope in a.dcm already reaches 4.40 m/s; the true peak is higher",
    )


def test_the_integral_comes_from_the_image_that_gave_the_peak() -> None:
    measurements = [
        one("AV_Vmax", 1.1, "a.dcm"),
        one("AV_Vmax", 1.6, "b.dcm"),
        one("AV_VTI", 15.0, "a.dcm"),
        one("AV_VTI", 14.0, "b.dcm"),
    ]
    peak, integral = combine(measurements)
    assert (peak.value, integral.value) == (1.6, 14.0)
    assert integral.beats[0].reason == "the jet is better aligned in b.dcm"


def test_an_integral_without_its_peak_is_the_highest_complete_one() -> None:
    integrals = [one("MR_VTI", 90.0, "a.dcm"), one("MR_VTI", 120.0, "b.dcm", bound="lower")]
    assert combine(integrals)[0].value == 90.0


def test_an_inflow_is_averaged_without_its_incomplete_envelopes() -> None:
    inflow = [
        one("E", 0.8, "a.dcm", spread=spread(trace=0.02)),
        one("E", 0.9, "b.dcm", spread=spread(trace=0.02)),
        one("E", 0.5, "c.dcm", bound="lower"),
    ]
    (mean,) = combine(inflow)
    assert mean.value == pytest.approx(0.85)
    assert [beat.used for beat in mean.beats] == [True, True, False]


def test_a_heart_rate_is_the_plain_mean_with_its_scatter() -> None:
    rates = [
        one("HR", 80.0, "a.dcm", spread=spread(trace=0.1)),
        one("HR", 100.0, "b.dcm", spread=spread(trace=2.0)),
    ]
    (mean,) = combine(rates)
    assert mean.value == pytest.approx(90.0)
    assert mean.spread.acquisition == pytest.approx(sqrt(200))  # sample sd of 80 and 100
    assert mean.notes == ("80 to 100/min over 2 images",)
    assert mean.sd == pytest.approx(hypot(0.1, 2.0) / 2)


def test_a_beat_that_was_left_out_before_keeps_its_own_reason() -> None:
    premature = Beat(file="a.dcm", frame=0, value=3.0, used=False, reason="premature")
    slow = one("MR_Vmax", 4.0, "a.dcm")
    slow = replace(slow, beats=(*slow.beats, premature))
    (jet,) = combine([slow, one("MR_Vmax", 5.0, "b.dcm")])
    assert [beat.reason for beat in jet.beats] == [
        "b.dcm shows a faster envelope, 5.00 m/s",
        "premature",
        None,
    ]


def test_the_other_edge_conventions_are_averaged_where_all_images_have_them() -> None:
    walls = [
        one("LVIDd", 3.4, "a.dcm", edges={"inner edge": 3.3, "trailing": 3.2}),
        one("LVIDd", 3.6, "b.dcm", edges={"inner edge": 3.5}),
    ]
    (mean,) = combine(walls)
    assert mean.edges.keys() == {"inner edge"}
    assert 3.3 < mean.edges["inner edge"] < 3.5


@st.composite
def several_images(draw: st.DrawFn) -> list[Measurement]:
    ids = st.sampled_from(["LVIDd", "E", "MR_Vmax", "AV_VTI", "AV_Vmax", "HR"])
    lines = draw(
        st.lists(
            st.tuples(
                ids,
                st.floats(1.0, 5.0),
                st.sampled_from(["a.dcm", "b.dcm", "c.dcm"]),
                st.sampled_from([None, "lower"]),
                st.sampled_from(["automatic", "caliper"]),
            ),
            max_size=12,
        )
    )
    return [
        one(id_, value, file, bound=bound, method=method)
        for id_, value, file, bound, method in lines
    ]


@given(several_images(), st.randoms())
def test_the_order_of_the_images_does_not_matter(
    measurements: list[Measurement], chance: object
) -> None:
    shuffled = list(measurements)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert combine(shuffled) == combine(measurements)


@given(several_images())
def test_no_beat_is_lost_and_every_value_lies_among_those_given(
    measurements: list[Measurement],
) -> None:
    combined = combine(measurements)
    assert sum(len(m.beats) for m in combined) == len(measurements)
    for number in combined:
        alike = [
            m.value
            for m in measurements
            if (m.quantity, m.method) == (number.quantity, number.method)
        ]
        assert min(alike) - 1e-9 <= number.value <= max(alike) + 1e-9
        assert number.sd > 0
        assert all(beat.used or beat.reason for beat in number.beats)


@given(several_images())
def test_combining_twice_changes_nothing(measurements: list[Measurement]) -> None:
    once = combine(measurements)
    assert combine(once) == once


def test_sweeps_that_contradict_each_other_widen_the_doubt_and_say_so() -> None:
    # Two sweeps 0.8 cm apart: the mean is known no better than half their distance.
    (mean,) = combine([one("LVIDd", 3.4, "a.png"), one("LVIDd", 4.2, "b.png")])
    assert mean.sd == pytest.approx(0.4, rel=0.12)
    assert any("a.png" in note and "b.png" in note for note in mean.notes)


def test_sweeps_that_agree_make_no_remark() -> None:
    (mean,) = combine([one("LVIDd", 3.40, "a.png"), one("LVIDd", 3.45, "b.png")])
    assert mean.notes == ()
    assert mean.sd < 0.11
