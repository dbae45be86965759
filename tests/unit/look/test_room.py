"""What the board returns of room light."""

import numpy as np
import pytest

from paneglow.catalog import film_reflectance, film_transmittance, find_film, read_catalog
from paneglow.look.colour import daylight_weights, to_chromaticity
from paneglow.look.openings import build_resampling
from paneglow.look.room import (
    air_reflectance_from_inside,
    build_stack_xyz_per_lx,
    coated,
    room_map,
    stacks,
)


def index_of(base: str, *, masked: bool = False, inked: bool = False) -> int:
    return [(s.base, s.masked, s.inked) for s in stacks()].index((base, masked, inked))


def test_the_face_to_air_returns_its_exact_share() -> None:
    # The integral of Fresnel's equations over the hemisphere, n = 1.5 (tests/published/test_fresnel_closed_forms.py)
    assert air_reflectance_from_inside(1.5) == pytest.approx(0.59635, abs=1e-5)


def test_a_coat_never_returns_more_than_it_gets() -> None:
    wavelength_nm = daylight_weights().wavelength_nm
    for film in read_catalog().films.values():
        reflectance = coated(film, under=np.ones_like(wavelength_nm), wavelength_nm=wavelength_nm)
        assert np.all((reflectance >= 0.0) & (reflectance <= 1.0 + 1e-12))


@pytest.mark.parametrize("under", [0.05, 0.3, 0.8])
def test_a_coat_returns_the_sum_over_all_passes_between_it_and_what_lies_below(under: float) -> None:
    """Light comes up at once, and after 1, 2, 3 ... returns from below: summed pass by pass."""
    film = find_film(read_catalog(), "white-legend", kind="legend")
    nm = np.asarray([465.0, 525.0, 620.0])
    reflect, transmit = film_reflectance(film, wavelength_nm=nm), film_transmittance(film, wavelength_nm=nm)
    assert reflect.max() * under < 0.8  # 200 passes then leave less than 1e-19
    up = reflect + sum(transmit * under * (reflect * under) ** n * transmit for n in range(200))
    np.testing.assert_allclose(coated(film, under=np.full(3, under), wavelength_nm=nm), up, rtol=1e-12)


def test_a_white_mask_over_copper_is_brighter_than_a_black_one(staged, lamp) -> None:
    from shapely.geometry import box

    luminances = {}
    for mask in ("white", "green", "black"):
        stage = staged({"w": box(1, 1, 3, 3)}, [lamp(ref="D1", at_mm=(2, 2))], outline=box(0, 0, 5, 5), mask=mask)
        table = build_stack_xyz_per_lx(design=stage.design, catalog=stage.catalog, scene=stage.scene)[0]
        luminances[mask] = float(table[index_of("copper", masked=True), 1])
        assert np.all(table[:, 1] <= 1 / np.pi)  # nothing is whiter than white
    assert luminances["white"] > luminances["green"] > luminances["black"]


def test_green_mask_is_green_and_laminate_yellowish(staged, lamp) -> None:
    from shapely.geometry import box

    stage = staged({"w": box(1, 1, 3, 3)}, [lamp(ref="D1", at_mm=(2, 2))], outline=box(0, 0, 5, 5))
    table = build_stack_xyz_per_lx(design=stage.design, catalog=stage.catalog, scene=stage.scene)[0]
    grey = to_chromaticity(daylight_weights().weights.sum(axis=0))
    mask = to_chromaticity(table[index_of("copper", masked=True)])
    laminate = to_chromaticity(table[index_of("laminate")])
    assert grey is not None
    assert mask is not None
    assert laminate is not None
    assert mask[1] > grey[1] + 0.02
    assert laminate[0] > grey[0]
    assert laminate[1] > grey[1]


def test_more_absorbing_laminate_is_darker_in_the_room(staged, lamp) -> None:
    from shapely.geometry import box

    stage = staged(
        {"w": box(1, 1, 3, 3)}, [lamp(ref="D1", at_mm=(2, 2))], outline=box(0, 0, 5, 5), slab_factors=(1.0, 0.4, 2.0)
    )
    table = build_stack_xyz_per_lx(design=stage.design, catalog=stage.catalog, scene=stage.scene)
    laminate = table[:, index_of("laminate"), 1]
    assert laminate[1] < laminate[0] < laminate[2]


def test_the_room_map_is_each_stack_where_it_lies(staged, lamp) -> None:
    from shapely.geometry import box

    stage = staged({"w": box(1, 1, 3, 3)}, [lamp(ref="D1", at_mm=(2, 2))], outline=box(0, 0, 5, 5))
    table = build_stack_xyz_per_lx(design=stage.design, catalog=stage.catalog, scene=stage.scene)[0]
    grid = stage.tally.map_grid
    resample = build_resampling(fine=stage.board.maps.grid, grid=grid)
    room = room_map(stage.board.maps, stack_xyz=table, resample=resample)
    window = grid.pixel_at(x_mm=2.0, y_mm=2.0)
    mask = grid.pixel_at(x_mm=4.1, y_mm=4.1)
    outside = grid.pixel_at(x_mm=5.5, y_mm=2.0)
    np.testing.assert_allclose(room[:, *window], table[index_of("laminate")], rtol=1e-5)
    np.testing.assert_allclose(room[:, *mask], table[index_of("copper", masked=True)], rtol=1e-5)
    np.testing.assert_array_equal(room[:, *outside], 0.0)


def test_legend_over_mask_is_lighter_than_mask_alone() -> None:
    wavelength_nm = daylight_weights().wavelength_nm
    film = find_film(read_catalog(), "white-legend", kind="legend")
    dark = np.full_like(wavelength_nm, 0.05)
    assert np.all(coated(film, under=dark, wavelength_nm=wavelength_nm) > dark)
