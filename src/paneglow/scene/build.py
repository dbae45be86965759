"""Board and catalogue to a scene: the one place where part names end and degrees become radians."""

import itertools
import math
from typing import Literal

import numpy as np
import numpy.typing as npt

from paneglow.board import Board, FaceMaps, PlacedLed
from paneglow.catalog import (
    Catalog,
    Laminate,
    find_film,
    find_laminate,
    find_surface,
    laminate_absorb_per_mm,
    surface_reflectance,
)
from paneglow.design import Design
from paneglow.grid import Grid
from paneglow.physics import scatter_per_mm
from paneglow.scene.coats import COVERED, ClassTable, CoatKit, add_body, build_coat_kit, build_face
from paneglow.scene.emitters import PartLight, build_emitter, build_part_light
from paneglow.scene.pose import pose_of
from paneglow.scene.records import BODY_HOLE, BODY_LAMINATE, BODY_OUTSIDE, BODY_PLATED_HOLE, ClassMap, Scene, Slab
from paneglow.scene.surroundings import build_back_sheet, build_front_sheet, build_inner_layers

FloatArray = npt.NDArray[np.float64]

MAP_PITCH_MM = 0.2  # luminance pixel; about 1.7 arcmin at 400 mm, near what an eye resolves
PLATED_WALL = "copper-bright-in-resin"
COPPER_FACE = "copper-treated"  # what light inside the laminate meets: the bonded side of the foil
FILM_PREFIX = "film:"

End = Literal["nominal", "low", "high"]
ENDS: tuple[End, ...] = ("nominal", "low", "high")


def build_scene(board: Board, *, design: Design, catalog: Catalog, map_pitch_mm: float = MAP_PITCH_MM) -> Scene:
    """Geometry and coefficients of a lit board.

    Parameters
    ----------
    board : Board
    design : Design
        For what the board is made of and how it is looked at.
    catalog : Catalog
    map_pitch_mm : float
        Side of a luminance pixel [mm].

    Returns
    -------
    Scene

    Raises
    ------
    CatalogError
        If the laminate, mask, legend or a diffuser is not in the catalogue.
    """
    laminate = find_laminate(catalog, design.board.laminate)
    mask = find_film(catalog, design.board.mask, kind="mask")
    legend = find_film(catalog, design.board.legend, kind="legend")
    foil = find_surface(catalog, COPPER_FACE)
    before = design.board.front_film
    front_film = None if before is None else find_film(catalog, before.film, kind="diffuser")
    films = (mask, legend) if front_film is None else (mask, legend, front_film)
    parts = {led.part.code: led.part for led in board.leds}
    lights = {code: build_part_light(part, laminate=laminate, films=films) for code, part in parts.items()}
    axis_nm, first_node = _shared_axis(lights)
    kit = build_coat_kit(
        mask=mask,
        legend=legend,
        copper=foil,
        wavelength_nm=axis_nm,
        # Width parameter of the facet slopes, from their rms slope
        roughness=0.0 if laminate.face_rms_slope is None else math.sqrt(2.0) * laminate.face_rms_slope.value,
    )
    table = ClassTable()
    front = build_face(board.maps, front=True, kit=kit, table=table)
    back = build_face(board.maps, front=False, kit=kit, table=table)
    _add_bodies(board, front=front, back=back, kit=kit, table=table)
    return Scene(
        grid=board.maps.grid,
        front=front,
        back=back,
        body=_body_map(board.maps),
        classes=table.to_face_classes(),
        wavelength_nm=axis_nm,
        thickness_mm=board.thickness_mm,
        refractive_index=laminate.refractive_index.value,
        asymmetry=laminate.asymmetry.value,
        slabs=build_slabs(laminate, wavelength_nm=axis_nm),
        emitters=tuple(
            build_emitter(
                led,
                light=lights[led.part.code],
                first_node=first_node[led.part.code],
                maps=board.maps,
                thickness_mm=board.thickness_mm,
                n_wavelengths=axis_nm.size,
                diffuser=None
                if led.diffuser == "none"
                else find_film(catalog, led.diffuser.removeprefix(FILM_PREFIX), kind="diffuser"),
            )
            for led in board.leds
        ),
        view_angle_rad=math.radians(design.view.angle_deg),
        inner=build_inner_layers(board.maps, board=design.board, foil=foil, wavelength_nm=axis_nm),
        back_sheet=build_back_sheet(design.board.back_cover, n_wavelengths=axis_nm.size),
        front_sheet=build_front_sheet(front_film, front=before, wavelength_nm=axis_nm),
        plating=surface_reflectance(find_surface(catalog, PLATED_WALL), wavelength_nm=axis_nm),
        # Windows beyond the 255th share the last number
        windows=np.minimum(board.survey.labels, 255).astype(np.uint8),
        map_grid=Grid.over(bounds_mm=board.maps.grid.bounds_mm, pitch_mm=map_pitch_mm),
    )


def build_slabs(laminate: Laminate, *, wavelength_nm: FloatArray) -> tuple[Slab, ...]:
    """Nominal slab first, then every combination of the ends of its scattering and absorption.

    Parameters
    ----------
    laminate : Laminate
    wavelength_nm : ndarray, shape (w,)
        Axis of the scene [nm].

    Returns
    -------
    tuple of Slab
        One where the laminate has no range, else up to nine: three scattering coefficients, each with three
        absorptions. Versions of one scattering coefficient stand together and cost one trace.
    """
    reduced = laminate.reduced_scatter_per_mm
    scatters = (reduced.value, *(end for end in (reduced.lowest, reduced.highest) if end != reduced.value))
    table = laminate.absorption
    absorptions: tuple[tuple[End, float], ...] = tuple(
        (end, factor)
        for end, factor in zip(ENDS, (1.0, table.low_factor, table.high_factor), strict=True)
        if end == "nominal" or factor != 1.0
    )
    return tuple(
        Slab(
            name="nominal"
            if scatter == reduced.value and end == "nominal"
            else f"reduced scattering {scatter:g} per mm, absorption x {factor:g}",
            scatter_per_mm=scatter_per_mm(reduced_scatter_per_mm=scatter, asymmetry=laminate.asymmetry.value),
            absorb_per_mm=laminate_absorb_per_mm(laminate, wavelength_nm=wavelength_nm, end=end),
        )
        for scatter, (end, factor) in itertools.product(scatters, absorptions)
    )


def _shared_axis(lights: dict[str, PartLight]) -> tuple[npt.NDArray[np.float64], dict[str, int]]:
    """All nodes of all order codes on one axis, and where each code's nodes begin."""
    first_node: dict[str, int] = {}
    count = 0
    for code, light in lights.items():
        first_node[code] = count
        count += light.nodes_nm.size
    if not lights:
        # A board without LEDs still has faces to look at
        return np.array([555.0]), first_node
    return np.concatenate([light.nodes_nm for light in lights.values()]), first_node


def _body_map(maps: FaceMaps) -> ClassMap:
    body = np.full(maps.grid.shape, BODY_OUTSIDE, dtype=np.uint8)
    body[maps.outline_inside >= COVERED] = BODY_LAMINATE
    is_hole = (maps.holes >= COVERED) & (maps.outline_inside >= COVERED)
    body[is_hole] = BODY_HOLE
    body[is_hole & (maps.plated_holes >= COVERED)] = BODY_PLATED_HOLE
    return body


def _add_bodies(board: Board, *, front: ClassMap, back: ClassMap, kit: CoatKit, table: ClassTable) -> None:
    """Mark on both faces the bodies of the LEDs that lie on them; a body returns part of what leaves the face."""
    for led in board.soldered.leds:
        if not pose_of(led, thickness_mm=board.thickness_mm).covers_board:
            continue
        face = back if led.side == "back" else front
        near, under = _footprint(led, grid=board.maps.grid)
        add_body(face[near], under=under, backing_reflect=led.part.body_reflectance.value, kit=kit, table=table)


def _footprint(led: PlacedLed, *, grid: Grid) -> tuple[tuple[slice, slice], npt.NDArray[np.bool_]]:
    """Part of the grid round a part, and the pixels in it under the body; a side-view part lies across its rotation."""
    turn = math.radians(led.rotation_deg)
    body = led.part.body
    half_along, half_across = 0.5 * body.length_mm, 0.5 * body.width_mm
    if led.mounting == "side_view":
        half_along, half_across = half_across, half_along
    reach = math.hypot(half_along, half_across)
    columns = np.abs(grid.x_centres_mm() - led.at_mm[0]) <= reach
    rows = np.abs(grid.y_centres_mm() - led.at_mm[1]) <= reach
    near = (_span(rows), _span(columns))
    x = grid.x_centres_mm()[near[1]][None, :] - led.at_mm[0]
    y = grid.y_centres_mm()[near[0]][:, None] - led.at_mm[1]
    along = np.abs(x * math.cos(turn) + y * math.sin(turn))
    across = np.abs(y * math.cos(turn) - x * math.sin(turn))
    return near, np.asarray((along <= half_along) & (across <= half_across))


def _span(chosen: npt.NDArray[np.bool_]) -> slice:
    """Slice over the chosen run of indices; empty where there is none."""
    found = np.flatnonzero(chosen)
    return slice(int(found[0]), int(found[-1]) + 1) if found.size else slice(0, 0)
