"""What holds in every scene, however odd: random boards, coats, foils, rims, sheets, glue and lamps.

Scenes are drawn by Hypothesis from a fixed seed. Russian roulette keeps the mean of all fates, not every sum: five
standard errors of 32 batches, which a right program exceeds once in some 40 000 sums; sums that do not vary are exact.
"""

import math
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import (
    BODY_HOLE,
    BODY_LAMINATE,
    BODY_OUTSIDE,
    BODY_PLATED_HOLE,
    Dome,
    Emitter,
    FaceClasses,
    InnerLayer,
    LightWall,
    Scene,
    Sheet,
    Slab,
)
from paneglow.transport.cpu import trace_emitter

N_PIXELS = 12
PITCH = 0.5  # mm, exact in binary, like every shift of the scene below
N_NODES = 2
SIGMAS = 5.0
PHOTONS = 3_200
N_BATCHES = 32

OPENING = (2.0, 2.0)  # mm; the four by four pixels in the middle

shares = st.floats(min_value=0.0, max_value=1.0)


@st.composite
def face_classes(draw):
    """Bare, matt, black, and two classes of any coat."""
    transmit, reflect, haze, backing = [1.0, 1.0, 0.0], [0.0, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
    for _ in range(2):
        passed = draw(shares)
        transmit.append(passed)
        reflect.append(draw(shares) * (1.0 - passed))
        haze.append(draw(shares))
        backing.append(draw(shares))
    roughness = np.array([0.0, draw(st.floats(min_value=0.02, max_value=1.0)), 0.0, 0.0, 0.0])
    at_nodes = np.array([1.0, draw(st.floats(min_value=0.2, max_value=1.0))])
    tint = np.where(np.array(transmit)[:, None] < 1.0, at_nodes, 1.0)
    return FaceClasses(
        names=("bare", "matt", "black", "first", "second"),
        transmit=np.array(transmit)[:, None] * tint,
        reflect=np.array(reflect)[:, None] * at_nodes,
        haze=np.array(haze),
        backing_reflect=np.array(backing)[:, None] * at_nodes,
        roughness=roughness,
    )


def maps(values):
    """A coarse map, blown up: 4 x 4 cells of 3 x 3 pixels."""
    cells = st.lists(st.sampled_from(values), min_size=16, max_size=16)
    return cells.map(lambda drawn: np.kron(np.array(drawn, dtype=np.uint8).reshape(4, 4), np.ones((3, 3), np.uint8)))


def perhaps(strategy):
    return st.one_of(st.none(), strategy)


@st.composite
def sheets(draw, *, transmitting):
    reflect = draw(st.floats(min_value=0.0, max_value=0.95))
    transmit = draw(shares) * (1.0 - reflect) if transmitting else 0.0
    return Sheet(
        distance_mm=draw(st.floats(min_value=0.5, max_value=4.0)),
        reflect=np.full(N_NODES, reflect), transmit=np.full(N_NODES, transmit), haze=draw(shares),
    )  # fmt: skip


@st.composite
def emitters(draw):
    """A part behind the board, turned and tilted anyhow, perhaps in glue or in a frame."""
    turn, tilt = draw(st.floats(0.0, 6.28)), draw(st.floats(0.0, 3.14))
    axis = (math.sin(tilt) * math.cos(turn), math.sin(tilt) * math.sin(turn), math.cos(tilt))
    u = (-math.sin(turn), math.cos(turn), 0.0)
    table = cosine_power_table(draw(st.floats(min_value=0.2, max_value=1.4)))
    size = draw(st.floats(min_value=0.0, max_value=0.6))
    added = draw(st.sampled_from(("nothing", "dome", "wall", "opening")))
    if added == "opening":
        axis, u = (0.0, 0.0, draw(st.sampled_from((1.0, -1.0)))), (1.0, 0.0, 0.0)
    dome = Dome(
        radius_mm=1.4, height_mm=1.2, refractive_index=draw(st.floats(1.3, 1.6)),
        scatter_per_mm=draw(st.floats(0.0, 1.0)),
    )  # fmt: skip
    wall = LightWall(length_mm=2.0, width_mm=1.5, reflect=np.full(N_NODES, draw(st.floats(0.0, 0.95))))
    centre = (0.0, 0.0) if added == "opening" else draw(st.tuples(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0)))
    return Emitter(
        ref="E1", window=None, centre_mm=(*centre, -0.45), axis=axis, u=u,
        v=tuple(np.cross(axis, u)), size_mm=(size, size), cos_table=table.cos_table, cdf_table=table.cdf_table,
        intensity_table=table.intensity_table, nodes=np.arange(N_NODES),
        xyz_per_lm=np.array([[0.4, 0.25, 0.1], [0.5, 0.75, 0.2]]), flux_lm=1.0, flux_lm_low=1.0, flux_lm_high=1.0,
        dome=dome if added == "dome" else None, light_wall=wall if added == "wall" else None,
        opening_mm=OPENING if added == "opening" else None, opening_plated=draw(st.booleans()),
    )  # fmt: skip


@st.composite
def scenes(draw):
    grid = Grid(x_min_mm=-3.0, y_min_mm=-3.0, pitch_mm=PITCH, n_x=N_PIXELS, n_y=N_PIXELS)
    bodies = st.sampled_from((
        (BODY_LAMINATE,),
        (BODY_LAMINATE,) * 6 + (BODY_HOLE, BODY_PLATED_HOLE),
        (BODY_LAMINATE,) * 4 + (BODY_OUTSIDE,),
    ))  # fmt: skip
    thickness = draw(st.floats(min_value=0.3, max_value=3.2))
    scatter = draw(st.one_of(st.just(0.0), st.floats(min_value=0.1, max_value=8.0)))
    absorb = draw(st.floats(min_value=0.0, max_value=0.5))
    slabs = tuple(
        Slab(name=name, scatter_per_mm=scatter, absorb_per_mm=np.array([absorb, 0.3 * absorb]) * times)
        for name, times in (("nominal", 1.0), ("dark", 2.0))
    )
    foil = draw(perhaps(maps((0, 0, 1))))
    emitter = draw(emitters())
    body = draw(maps(draw(bodies)))
    if emitter.opening_mm is not None:
        body[4:8, 4:8] = BODY_PLATED_HOLE if emitter.opening_plated else BODY_HOLE
    return Scene(
        grid=grid,
        front=draw(maps(range(5))),
        back=draw(maps(range(5))),
        body=body,
        classes=draw(face_classes()),
        wavelength_nm=np.array([450.0, 600.0]),
        thickness_mm=thickness,
        refractive_index=draw(st.floats(min_value=1.3, max_value=1.7)),
        asymmetry=draw(st.floats(min_value=-0.5, max_value=0.95)),
        slabs=slabs,
        emitters=(emitter,),
        view_angle_rad=draw(st.floats(min_value=0.0, max_value=1.3)),
        map_grid=replace(grid, pitch_mm=1.0, n_x=6, n_y=6),
        inner=() if foil is None else (
            InnerLayer(height_mm=0.4 * thickness, copper=foil.astype(np.bool_), reflect=np.array([0.3, 0.6])),
        ),
        back_sheet=draw(perhaps(sheets(transmitting=False))),
        front_sheet=draw(perhaps(sheets(transmitting=True))),
        plating=np.array([0.5, 0.7]),
        windows=draw(maps(range(3))),
    )  # fmt: skip


def traced(scene, *, n_threads=None):
    return trace_emitter(
        scene, scene.emitters[0], number=0, versions=scene.slabs, map_grid=scene.map_grid, photons=PHOTONS,
        n_batches=N_BATCHES, seed=7, n_threads=n_threads,
    )  # fmt: skip


@settings(max_examples=150, deadline=None, derandomize=True, database=None)
@given(scene=scenes())
def test_energy_closes_and_no_value_is_negative_or_missing(scene):
    tally = traced(scene)
    for values in (tally.maps, tally.fates, tally.angles):
        assert np.isfinite(values).all()
        assert values.min() >= -1e-12
    totals = tally.fates.sum(axis=1)
    errors = totals.std(axis=0, ddof=1) / math.sqrt(N_BATCHES)
    # Rounding of thousands of bookings
    assert (np.abs(totals.mean(axis=0) - 1.0) <= SIGMAS * errors + 1e-9).all(), (totals.mean(axis=0), errors)


@settings(max_examples=25, deadline=None, derandomize=True, database=None)
@given(scene=scenes())
def test_the_number_of_threads_changes_nothing(scene):
    one, three = traced(scene, n_threads=1), traced(scene, n_threads=3)
    np.testing.assert_array_equal(one.maps, three.maps)
    np.testing.assert_array_equal(one.fates, three.fates)
    np.testing.assert_array_equal(one.angles, three.angles)


@settings(max_examples=40, deadline=None, derandomize=True, database=None)
@given(scene=scenes(), pixels=st.tuples(st.integers(-40, 40), st.integers(-40, 40)))
def test_a_scene_moved_by_whole_pixels_gives_the_same_light(scene, pixels):
    dx, dy = pixels[0] * PITCH, pixels[1] * PITCH
    emitter = scene.emitters[0]
    x, y, z = emitter.centre_mm
    moved = replace(
        scene,
        grid=replace(scene.grid, x_min_mm=scene.grid.x_min_mm + dx, y_min_mm=scene.grid.y_min_mm + dy),
        map_grid=replace(scene.map_grid, x_min_mm=scene.map_grid.x_min_mm + dx, y_min_mm=scene.map_grid.y_min_mm + dy),
        emitters=(replace(emitter, centre_mm=(x + dx, y + dy, z)),),
    )
    here, there = traced(scene), traced(moved)
    # The same paths, but for sums that round otherwise; now and then a photon falls on the other side of an edge
    np.testing.assert_allclose(there.fates.mean(axis=0), here.fates.mean(axis=0), atol=2.0 / PHOTONS)
    brightest = float(here.maps.mean(axis=0).max())
    np.testing.assert_allclose(there.maps.mean(axis=0), here.maps.mean(axis=0), atol=1e-2 * brightest)
