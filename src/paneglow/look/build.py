"""From traced light to what is seen: the whole board and every window."""

import numpy as np
import numpy.typing as npt

from paneglow.board import Board
from paneglow.catalog import Catalog
from paneglow.design import Design
from paneglow.look.eye import blur_sigma_mm
from paneglow.look.figures import RoomLight, build_window_look
from paneglow.look.luminance import BoardLight, build_light
from paneglow.look.openings import build_openings, build_resampling
from paneglow.look.records import Glow, Look
from paneglow.look.room import N_STACKS, build_stack_xyz_per_lx, stack_shares
from paneglow.scene import Scene
from paneglow.transport import Tally

FloatArray = npt.NDArray[np.float64]


def build_look(*, board: Board, design: Design, catalog: Catalog, scene: Scene, tally: Tally) -> Look:
    """What an eye sees of the lit board, and the figures of every window.

    Parameters
    ----------
    board, design, catalog : Board, Design, Catalog
        Windows and faces; viewing distance, room light, mask, legend and laminate by name; their reflectances.
    scene, tally : Scene, Tally
        Flux of every LED [lm] with its range, and slab versions; light per lumen, traced on that scene.

    Returns
    -------
    Look
        Maps [cd/m2] and windows, in the order of the board's survey.

    Raises
    ------
    TransportError
        If the tally was traced on another scene, or in one batch only.
    CatalogError
        If the laminate, mask or legend is not in the catalogue.

    Notes
    -----
    Light is linear in current, so currents are applied here: every map is a sum of light per lumen times lumen. Errors
    are those of independent batches. Ranges run over slab versions, with all LEDs together at the low, nominal and high
    end of their flux (`build_window_look`).
    """
    grid = tally.map_grid
    light = build_light(scene, tally=tally)
    stack_xyz_per_lx = build_stack_xyz_per_lx(design=design, catalog=catalog, scene=scene)
    stack_xyz = design.view.ambient_lx * stack_xyz_per_lx
    shares = np.zeros((N_STACKS, *grid.shape))
    for index, share in stack_shares(board.maps, resample=build_resampling(fine=board.maps.grid, grid=grid)):
        shares[index] = share
    room = RoomLight(stack_y=stack_xyz[:, :, 1], shares=shares)
    blur_sigma_px = blur_sigma_mm(design.view.distance_mm) / grid.pitch_mm
    windows = tuple(
        build_window_look(
            opening, number=number, scene=scene, tally=tally, light=light, room=room, blur_sigma_px=blur_sigma_px
        )
        for number, opening in enumerate(build_openings(board, grid=grid), start=1)
    )
    totals = light.versions.sum(axis=(1, 2))
    return Look(
        grid=grid,
        xyz=light.xyz,
        luminance_cd_m2=light.xyz[1],
        luminance_se_cd_m2=_error_cd_m2(light),
        low_cd_m2=light.versions[int(totals.argmin())].astype(np.float64),
        high_cd_m2=light.versions[int(totals.argmax())].astype(np.float64),
        lit_room_xyz=light.xyz + np.tensordot(stack_xyz[0].T, shares, axes=1),
        room_stack_xyz_per_lx=stack_xyz_per_lx[0],
        windows=windows,
        assumed=light.assumed,
    )


def build_glow(scene: Scene, *, tally: Tally) -> Glow:
    """Light that a picture is drawn from, without the figures of windows; see `build_look`.

    Parameters
    ----------
    scene, tally : Scene, Tally
        Flux of every LED [lm]; light per lumen, traced on that scene.

    Returns
    -------
    Glow
    """
    light = build_light(scene, tally=tally)
    return Glow(grid=tally.map_grid, xyz=light.xyz, luminance_se_cd_m2=_error_cd_m2(light))


def _error_cd_m2(light: BoardLight) -> FloatArray:
    """Standard error of the nominal luminance, shape (y, x)."""
    return np.asarray(light.batches.std(axis=0, ddof=1, dtype=np.float64) / np.sqrt(len(light.batches)))
