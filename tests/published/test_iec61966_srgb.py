"""IEC 61966-2-1 sRGB: its constants, and codes as `eotf_sRGB` and its inverse of colour-science 0.4.7 give them."""

import numpy as np
import pytest

from paneglow.look.colour import decode_srgb, encode_srgb, srgb_matrix


@pytest.mark.parametrize(
    ("code", "linear"),
    [
        (1, 0.000304),
        (10, 0.003035),
        (11, 0.003347),
        (64, 0.051269),
        (118, 0.181164),
        (128, 0.215861),
        (188, 0.502886),
        (192, 0.527115),
        (200, 0.577580),
        (254, 0.991102),
    ],
)
def test_decoding_gives_the_linear_values(code: int, linear: float) -> None:
    assert float(decode_srgb(np.asarray(code / 255))) == pytest.approx(linear, abs=6e-7)  # half the last printed digit


@pytest.mark.parametrize(
    ("linear", "code"), [(0.0031308, 0.04045), (0.18, 0.461356), (0.2140411, 0.5), (0.5, 0.735357)]
)
def test_encoding_gives_the_codes(linear: float, code: float) -> None:
    # Half the last printed digit; the published constants of the first row leave 2e-6 between the two branches
    assert float(encode_srgb(np.asarray(linear))) == pytest.approx(code, abs=2e-6)


def test_the_luminance_row_of_the_matrix_is_that_of_the_standard() -> None:
    luminance = np.linalg.inv(srgb_matrix())[1]
    np.testing.assert_allclose(luminance, [0.2126, 0.7152, 0.0722], atol=5e-5)  # half the last printed digit


def test_primaries_have_the_chromaticities_of_the_standard() -> None:
    columns = np.linalg.inv(srgb_matrix()).T
    for xyz, xy in zip(columns, [(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)], strict=True):
        np.testing.assert_allclose(xyz[:2] / xyz.sum(), xy, atol=1e-12)
