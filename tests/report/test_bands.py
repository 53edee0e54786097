"""Where a value is drawn against its interval, and with how many digits it is written."""

import pytest

from tableside.model import Index, Reference
from tableside.report.bands import band, limits
from tableside.report.digits import in_words, percent, with_sd


def number(value: float, sd: float = 0.1, bound: str | None = None) -> Index:
    return Index(
        name="x", value=value, sd=sd, sd_total=sd, unit="1", formula="x", inputs=(), sources=(),
        bound=bound,
    )  # fmt: skip


def interval(low: float | None = None, high: float | None = None) -> Reference:
    return Reference(source="a", population="b", low=low, high=high)


@pytest.mark.parametrize(
    ("value", "position"), [(1.0, 0.3), (2.0, 0.7), (1.5, 0.5), (0.25, 0.0), (2.75, 1.0)]
)
def test_limits_lie_at_the_ends_of_the_corridor(value: float, position: float) -> None:
    """By hand: the corridor takes the middle two fifths of the line."""
    drawn = band(number(value), interval(1.0, 2.0))
    assert drawn is not None and drawn.value == pytest.approx(position)


def test_a_value_off_the_line_is_marked() -> None:
    drawn = band(number(5.0), interval(1.0, 2.0))
    assert drawn is not None and drawn.beyond and drawn.place == "above"


def test_a_lower_bound_is_open_to_the_right() -> None:
    drawn = band(number(1.5, bound="lower"), interval(high=2.0))
    assert drawn is not None and drawn.open_right and drawn.whisker[1] == 1.0


def test_a_negative_range_keeps_its_order() -> None:
    drawn = band(number(-2.0), interval(-3.0, -1.0))
    assert drawn is not None and drawn.whisker[0] < drawn.value < drawn.whisker[1]


@pytest.mark.parametrize(("low", "high"), [(None, None), (2.0, 2.0), (3.0, 2.0)])
def test_no_interval_is_not_drawn(low: float | None, high: float | None) -> None:
    assert band(number(1.0), interval(low, high)) is None


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (1.27, 1.85, "1.27 to 1.85"),
        (None, 1.6, "up to 1.6"),
        (25.0, None, "from 25"),
        (None, None, "no limits given"),
    ],
)
def test_limits_are_written_as_printed(
    low: float | None, high: float | None, words: str
) -> None:
    assert limits(number(1.5, 0.04), interval(low, high)) == words


@pytest.mark.parametrize(
    ("value", "sd", "written"),
    [
        (3.524, 0.071, "3.52 ± 0.07"),
        (1.962, 0.138, "1.96 ± 0.14"),
        (118.4, 2.31, "118 ± 2"),
        (0.0853, 0.0049, "0.085 ± 0.005"),
        (-2.04, 0.31, "−2.0 ± 0.3"),
    ],
)
def test_digits_follow_the_uncertainty(value: float, sd: float, written: str) -> None:
    """GUM (JCGM 100:2008), 7.2.6: the uncertainty has at most two significant digits."""
    assert with_sd(value, sd) == written


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.995, "virtually certain"),
        (0.93, "very likely"),
        (0.7, "likely"),
        (0.55, "more likely than not"),
        (0.4, "about as likely as not"),
        (0.2, "unlikely"),
        (0.05, "very unlikely"),
        (0.005, "exceptionally unlikely"),
    ],
)
def test_words_of_probability_follow_the_ipcc_scale(probability: float, words: str) -> None:
    """IPCC, Guidance Note on Consistent Treatment of Uncertainties (2010), Table 1."""
    assert in_words(probability) == words


def test_nothing_is_ever_certain() -> None:
    assert percent(1.0) == ">99\u00a0%" and percent(0.0) == "<1\u00a0%"
