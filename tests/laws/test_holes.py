"""Holes and slots: a lamp in a round hole against a walk of its own, and lamp and viewer swapped beside a slot."""

import json
import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from paneglow.grid import Grid
from paneglow.scene import BODY_HOLE, BODY_LAMINATE, BODY_PLATED_HOLE, FaceClasses, Scene, Slab, lambertian_rectangle
from paneglow.transport.cpu import trace_emitter
from reference.hole_walk import ANNULUS_MM, RADII_MM, kept_path, round_hole
from sampling_checks import assert_mean_within, budget
from slab_scenes import bare_classes, beam, lambertian, slab_scene

FloatArray = npt.NDArray[np.float64]
N_BATCHES = 32
PITCHES_MM = (0.02, 0.1)  # the steps that pixels make of a rim must not count


def in_a_hole(radius_mm: float, *, pitch_mm: float) -> Scene:
    """The walk's scene, as the transport has it."""
    walked = round_hole(radius_mm)
    n = round(20.0 / pitch_mm)
    grid = Grid(x_min_mm=-10.0, y_min_mm=-10.0, pitch_mm=pitch_mm, n_x=n, n_y=n)
    hole = np.hypot(grid.x_centres_mm()[None, :], grid.y_centres_mm()[:, None]) < radius_mm
    bare = np.zeros(grid.shape, dtype=np.uint8)
    lamp = lambertian_rectangle("D1", centre_mm=(0.0, 0.0, walked.lamp_height_mm), size_mm=(walked.lamp_side_mm,) * 2)
    return Scene(
        grid=grid, front=bare, back=np.ones_like(bare),
        body=np.where(hole, BODY_HOLE, BODY_LAMINATE).astype(np.uint8),
        classes=FaceClasses(
            names=("bare", "copper"), transmit=np.array([[1.0], [0.0]]),
            reflect=np.array([[0.0], [walked.copper_reflect]]), haze=np.zeros(2), backing_reflect=np.zeros((2, 1)),
        ),
        wavelength_nm=np.array([550.0]), thickness_mm=walked.thickness_mm, refractive_index=walked.refractive_index,
        asymmetry=walked.asymmetry,
        slabs=(
            Slab(name="nominal", scatter_per_mm=walked.scatter_per_mm, absorb_per_mm=np.array([walked.absorb_per_mm])),
        ),
        emitters=(replace(lamp, opening_mm=(2.0 * radius_mm, 2.0 * radius_mm), opening_round=True),),
        view_angle_rad=0.0, map_grid=Grid(x_min_mm=-2.0, y_min_mm=-2.0, pitch_mm=0.05, n_x=80, n_y=80),
    )  # fmt: skip


@pytest.mark.parametrize("pitch_mm", PITCHES_MM)
@pytest.mark.parametrize("radius_mm", RADII_MM)
def test_the_ring_round_a_lamp_in_a_hole_is_as_bright_as_a_walk_of_its_own_finds_it(
    radius_mm: float, pitch_mm: float
) -> None:
    scene = in_a_hole(radius_mm, pitch_mm=pitch_mm)
    (lamp,), seen = scene.emitters, scene.map_grid
    tally = trace_emitter(
        scene, lamp, number=0, versions=scene.slabs, map_grid=seen, photons=budget(100_000), n_batches=N_BATCHES, seed=5
    )
    far = np.hypot(seen.x_centres_mm()[None, :], seen.y_centres_mm()[:, None]) - radius_mm
    ring = (far > ANNULUS_MM[0]) & (far < ANNULUS_MM[1])
    # One lumen from a Lambertian lamp of area A has the luminance 1 / (pi A)
    over_lamp = tally.maps[:, 0, 1][:, ring].mean(axis=1) * math.pi * 1e-6 * lamp.size_mm[0] ** 2
    walked = np.array(json.loads(kept_path(radius_mm).read_text())["batches"])
    assert_mean_within(
        over_lamp,
        expected=float(walked.mean()),
        # Pixels of the map across the ring's rims
        expected_se=math.hypot(walked.std(ddof=1) / math.sqrt(walked.size), 0.005 * walked.mean()),
        what=f"ring round a hole of radius {radius_mm:g} mm, pitch {pitch_mm:g} mm",
    )


def test_a_hole_whose_wall_absorbs_nothing_swallows_nothing() -> None:
    """Light from behind that meets a white plated wall leaves at one mouth or the other."""
    board = in_a_hole(0.75, pitch_mm=0.05)
    (lamp,) = board.emitters
    white = replace(
        board,
        body=np.where(board.body == BODY_HOLE, BODY_PLATED_HOLE, BODY_LAMINATE).astype(np.uint8),
        plating=np.ones(1),
        emitters=(replace(lamp, centre_mm=(0.0, 0.0, -0.05), opening_mm=None),),
    )
    tally = trace_emitter(
        white, white.emitters[0], number=0, versions=white.slabs, map_grid=white.map_grid, photons=20_000,
        n_batches=N_BATCHES, seed=6,
    )  # fmt: skip
    front, through, back, edge, hole, _, _ = tally.fates[:, :, 0].mean(axis=0)
    assert edge == hole == front == 0.0  # nothing crosses the copper of the back, nor the wall
    assert through > 0.25  # straight, the wall would let through no more than 0.2 by its angle
    assert back > 0.1


# A lamp of 1 x 1.5 mm that touches the back, a spot of the front, and a slot beside them or right between them
BOARD = Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=0.1, n_x=80, n_y=80)
BESIDE_MM, BETWEEN_MM = (-2.1, -1.6, -1.0, 1.5), (-0.4, 0.1, -3.0, 3.0)
LAMP_LOW, LAMP_SIZE = (-1.5, -0.5), (1.0, 1.5)
SPOT_LOW, SPOT_SIDE = (0.2, -0.8), 1.2


def with_a_slot(kind: int, slot_mm: tuple[float, ...], emitter, *, turned: bool) -> Scene:
    x, y = BOARD.x_centres_mm()[None, :], BOARD.y_centres_mm()[:, None]
    x = -x if turned else x
    slot = (x > slot_mm[0]) & (x < slot_mm[1]) & (y > slot_mm[2]) & (y < slot_mm[3])
    scene = slab_scene(
        optical_depth=3.0, albedo=0.99, asymmetry=0.7, refractive_index=1.5, thickness_mm=1.2, classes=bare_classes(),
        emitter=emitter, view_angle_rad=0.0,
    )  # fmt: skip
    bare = np.zeros(BOARD.shape, dtype=np.uint8)
    body = np.where(slot, kind, BODY_LAMINATE).astype(np.uint8)
    return replace(scene, grid=BOARD, front=bare, back=bare, body=body, plating=np.array([0.6]))


def seen_of_the_lamp(kind: int, slot_mm: tuple[float, ...], *, photons: int) -> FloatArray:
    middle = (LAMP_LOW[0] + 0.5 * LAMP_SIZE[0], LAMP_LOW[1] + 0.5 * LAMP_SIZE[1], -1e-6)
    lamp = replace(lambertian(size_mm=LAMP_SIZE), centre_mm=middle)
    scene = with_a_slot(kind, slot_mm, lamp, turned=False)
    spot = Grid(x_min_mm=SPOT_LOW[0], y_min_mm=SPOT_LOW[1], pitch_mm=SPOT_SIDE, n_x=1, n_y=1)
    tally = trace_emitter(
        scene, lamp, number=0, versions=scene.slabs, map_grid=spot, photons=photons, n_batches=N_BATCHES, seed=31
    )
    return tally.maps[:, 0, 1, 0, 0].astype(np.float64) * math.pi * LAMP_SIZE[0] * LAMP_SIZE[1] * 1e-6


def counted_where_the_lamp_was(kind: int, slot_mm: tuple[float, ...], *, photons: int) -> FloatArray:
    start = beam()
    centre = (-(SPOT_LOW[0] + 0.5 * SPOT_SIDE), SPOT_LOW[1] + 0.5 * SPOT_SIDE, -3.0)
    lamp = replace(start, centre_mm=centre, size_mm=(SPOT_SIDE, SPOT_SIDE))
    scene = with_a_slot(kind, slot_mm, lamp, turned=True)
    x, y = BOARD.x_centres_mm()[None, :], BOARD.y_centres_mm()[:, None]
    on_x = (-x > LAMP_LOW[0]) & (-x < LAMP_LOW[0] + LAMP_SIZE[0])
    on_y = (y > LAMP_LOW[1]) & (y < LAMP_LOW[1] + LAMP_SIZE[1])
    scene = replace(scene, windows=(on_x & on_y).astype(np.uint8))
    tally = trace_emitter(
        scene, lamp, number=0, versions=scene.slabs, map_grid=scene.map_grid, photons=photons, n_batches=N_BATCHES,
        seed=32,
    )  # fmt: skip
    return tally.angles.reshape(N_BATCHES, 2, -1)[:, 1].sum(axis=1)


@pytest.mark.parametrize("slot_mm", [pytest.param(BESIDE_MM, id="beside"), pytest.param(BETWEEN_MM, id="between")])
@pytest.mark.parametrize(
    "kind",
    [
        pytest.param(BODY_LAMINATE, id="no slot"),
        pytest.param(BODY_PLATED_HOLE, id="plated slot"),
        pytest.param(BODY_HOLE, id="bare slot"),
    ],
)
def test_lamp_and_viewer_may_be_swapped_across_a_slot(kind: int, slot_mm: tuple[float, ...]) -> None:
    photons = budget(400_000) if kind == BODY_HOLE else budget(100_000)  # all see 7 % at seven standard errors
    seen = seen_of_the_lamp(kind, slot_mm, photons=photons)
    counted = counted_where_the_lamp_was(kind, slot_mm, photons=photons)
    assert_mean_within(
        seen,
        expected=float(counted.mean()),
        expected_se=counted.std(ddof=1) / math.sqrt(counted.size),
        what=f"lamp and viewer swapped, slot of kind {kind} at {slot_mm}",
    )


def test_light_crosses_a_slot_that_stands_in_its_way() -> None:
    """What comes out of one edge enters the other: a bare slot darkens what lies beyond, it does not black it out."""
    photons = budget(400_000)
    whole = seen_of_the_lamp(BODY_LAMINATE, BETWEEN_MM, photons=photons).mean()
    plated = seen_of_the_lamp(BODY_PLATED_HOLE, BETWEEN_MM, photons=photons).mean()
    bare = seen_of_the_lamp(BODY_HOLE, BETWEEN_MM, photons=photons).mean()
    assert plated < 0.1 * bare
    assert 0.02 * whole < bare < 0.8 * whole
