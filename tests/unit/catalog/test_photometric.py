"""Lobes from photometric files: LM-63 and EULUMDAT, their limits and what is refused."""

import math

import numpy as np
import pytest

from paneglow.catalog import find_part, part_polar_table, read_catalog
from paneglow.catalog.photometric import parse_eulumdat, parse_ies, read_photometric
from paneglow.errors import CatalogError

ANGLES = tuple(range(0, 91, 10))
COSINES = tuple(math.cos(math.radians(angle)) for angle in ANGLES)


def ies(planes, *, horizontal=(0,), vertical=ANGLES, kind=1, tilt="NONE"):
    rows = [" ".join(f"{value:.6f}" for value in plane) for plane in planes]
    return "\n".join(
        [
            "IESNA:LM-63-2002",
            "[TEST] ours",
            f"TILT={tilt}",
            f"1 -1 1.0 {len(vertical)} {len(horizontal)} {kind} 2 0.001 0.001 0",
            "1.0 1.0 0.06",
            " ".join(str(angle) for angle in vertical),
            ",".join(str(angle) for angle in horizontal),
            *rows,
        ]
    )


def eulumdat(planes, *, symmetry, n_planes, gammas=ANGLES):
    head = ["ours", "1", str(symmetry), str(n_planes), "90", str(len(gammas)), "10"] + ["x"] * 5
    head += ["1"] * 9 + ["100", "100", "1", "0", "1"]
    lamp = ["1", "LED", "1000", "6500", "80", "1"]
    ratios = ["0.5"] * 10
    c_angles = [str(360 * n // n_planes) for n in range(n_planes)]
    values = [f"{value:.4f}".replace(".", ",") for plane in planes for value in plane]
    return "\n".join([*head, *lamp, *ratios, *c_angles, *(str(g) for g in gammas), *values])


def test_cosine_lobe_of_lm63_has_the_zonal_sum_pi():
    # Check file I = cos(theta), V = 0(10)90, one plane: sum of 2 pi (cos a - cos b) mean(I) is pi exactly (computed)
    lobe = parse_ies(ies([COSINES]))
    assert lobe.angle_deg == ANGLES
    intensity = np.array(lobe.relative_intensity)
    zones = 2.0 * math.pi * -np.diff(np.cos(np.radians(lobe.angle_deg)))
    assert float(zones @ (0.5 * (intensity[1:] + intensity[:-1]))) == pytest.approx(math.pi, abs=2e-6)


def test_planes_are_averaged_about_the_axis():
    # Quarter symmetry: the ends of the quarter weigh half
    flat, bright = (1.0, 0.5, 0.0), (1.0, 0.9, 0.4)
    text = ies([flat, bright, bright], horizontal=(0, 45, 90), vertical=(0, 45, 90))
    assert parse_ies(text).relative_intensity == pytest.approx((1.0, (0.5 + 2 * 0.9 + 0.9) / 4, (2 * 0.4 + 0.4) / 4))


@pytest.mark.parametrize(
    ("symmetry", "planes", "expected"),
    [
        (1, [(2.0, 1.0)], 0.5),
        (0, [(2.0, 1.0), (2.0, 0.0), (2.0, 1.0), (2.0, 0.0)], 0.25),
        (2, [(2.0, 1.0), (2.0, 0.0), (2.0, 1.0)], 0.25),
        (4, [(2.0, 1.0), (2.0, 0.0)], 0.25),
    ],
)
def test_symmetries_of_eulumdat(symmetry, planes, expected):
    lobe = parse_eulumdat(eulumdat(planes, symmetry=symmetry, n_planes=4, gammas=(0, 90)))
    assert lobe.relative_intensity == pytest.approx((1.0, expected))


def test_both_formats_tell_the_same_lobe():
    assert parse_eulumdat(eulumdat([COSINES], symmetry=1, n_planes=4)).relative_intensity == pytest.approx(
        parse_ies(ies([COSINES])).relative_intensity, abs=1e-4
    )


def test_a_part_takes_its_lobe_from_the_file_beside_it(tmp_path):
    (tmp_path / "beam.ies").write_text(ies([COSINES]))
    (tmp_path / "mine.toml").write_text(
        '[[part]]\ncode = "my-amber"\nlike = "sv-1204-amber"\nemission_file = "beam.ies"\n'
    )
    part = find_part(read_catalog(user_parts=tmp_path), "my-amber")
    assert part.half_angle_deg is None
    assert part.emission is not None
    assert "beam.ies" in part.emission.source
    # Lambertian: 1/pi per steradian on axis; ten-degree chords of the cosine lose half a percent of the flux
    assert part_polar_table(part).on_axis_per_sr == pytest.approx(1.0 / math.pi, rel=0.01)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("a.ies", "nothing", "no line TILT="),
        ("a.ies", ies([COSINES], tilt="INCLUDE"), "only TILT=NONE"),
        ("a.ies", ies([COSINES], kind=2), "only type C"),
        ("a.ies", ies([COSINES[:5]]), "ends within the candela values: 5 of 10"),
        ("a.ies", ies([[-1.0] * 10]), "must not be negative"),
        ("a.ies", ies([[0.0] * 10]), "nor all 0"),
        ("a.ies", ies([COSINES]).replace("0.866025", "bright"), "'bright' is no number"),
        ("a.ies", ies([COSINES]).replace("0.866025", "nan"), "nan is not finite"),
        ("a.ies", ies([COSINES], vertical=range(10, 101, 10)), "must rise from 0"),
        ("a.ies", ies([COSINES, COSINES], horizontal=(90, 0)), "horizontal angles must rise"),
        ("a.ies", ies([COSINES]).replace(" 10 1 1 2", " 1e9 1 1 2"), "allowed is 1 to 721"),
        ("a.ldt", "short", "a EULUMDAT header alone has 26"),
        ("a.ldt", eulumdat([COSINES], symmetry=9, n_planes=4), "symmetry is 9"),
        ("a.ldt", eulumdat([COSINES[:4]], symmetry=1, n_planes=4), "ends within the intensities"),
        ("a.txt", "", "no photometric file; allowed are .ies and .ldt"),
    ],
)
def test_what_is_no_such_file_is_told_in_one_line(tmp_path, name, text, words):
    path = tmp_path / name
    path.write_text(text)
    with pytest.raises(CatalogError, match="^" + str(path)) as caught:
        read_photometric(path)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(CatalogError, match="cannot be read"):
        read_photometric(tmp_path / "none.ies")
