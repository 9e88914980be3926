"""Plan frames: quarter turns, complex numbers as the other way to turn, and there and back."""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.base.plan import to_frame, to_site

FRAME = {"easting_m": 112.0, "northing_m": 208.0, "heading_deg": 12.0}


def test_a_point_ahead_of_a_machine_that_heads_north_lies_north() -> None:
    north = {"easting_m": 10.0, "northing_m": 20.0, "heading_deg": 90.0}
    np.testing.assert_allclose(to_site([5.0, 0.0], **north), [10.0, 25.0], atol=1e-12)
    np.testing.assert_allclose(to_frame([9.0, 20.0, 3.0], **north), [0.0, 1.0], atol=1e-12)


@pytest.mark.parametrize("shape", [(2,), (7, 2), (3, 4, 2)])
def test_turning_agrees_with_complex_numbers_and_goes_back(shape: tuple[int, ...]) -> None:
    xy = np.random.default_rng(0).uniform(-30, 30, shape)
    turned = 112 + 208j + (xy[..., 0] + 1j * xy[..., 1]) * np.exp(1j * np.radians(12.0))
    site = to_site(xy, **FRAME)
    np.testing.assert_allclose(site, np.stack([turned.real, turned.imag], axis=-1), atol=1e-11)
    np.testing.assert_allclose(to_frame(site, **FRAME), xy, atol=1e-11)
