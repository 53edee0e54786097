"""Running filters against the reference library scipy.ndimage."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d, median_filter, uniform_filter1d

from tableside.imaging.smooth import gaussian, running_mean, running_median

VALUES = np.random.default_rng(5).normal(size=301).cumsum()


@pytest.mark.parametrize("width", [3, 4, 31])
def test_the_running_median_is_that_of_the_reference(width: int) -> None:
    expected = median_filter(VALUES, size=width, mode="nearest")
    if width % 2:
        np.testing.assert_allclose(running_median(VALUES, width), expected)
    else:  # an even window has two middle values: the reference takes one, we their mean
        assert np.abs(running_median(VALUES, width) - expected).max() < np.ptp(VALUES) / 10


def test_the_gaussian_is_that_of_the_reference() -> None:
    expected = gaussian_filter1d(VALUES, 2.5, mode="nearest")
    np.testing.assert_allclose(gaussian(VALUES, 2.5), expected, atol=0.02)


def test_the_running_mean_is_that_of_the_reference() -> None:
    expected = uniform_filter1d(VALUES, 9, mode="constant")
    np.testing.assert_allclose(running_mean(VALUES, 9), expected)
