"""Four pictures of one board from the same light."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.board import Board
from paneglow.design import Design
from paneglow.grid import Grid
from paneglow.look.build import build_glow
from paneglow.look.canvas import Canvas, build_canvas, draw_glow, interpolated
from paneglow.look.colour import decode_srgb, in_gamut, to_linear_srgb, to_pixels
from paneglow.look.eye import response, veil
from paneglow.look.figures import DARK_CD_M2
from paneglow.look.records import Look, Pictures
from paneglow.look.room import N_STACKS, room_map
from paneglow.scene import Scene
from paneglow.transport import Tally

FloatArray = npt.NDArray[np.float64]

DARK_ROOM_LX = 1.0  # a bedroom at night with light from the next room: common practice, no source
VEIL_PIXEL_MM = 0.5  # the veil is smooth: it is computed on pixels of about this size
WHITE_LEVEL = 0.85  # linear display level of a perfect white in the lit room, leaving room for light: assumed
SHOULDER_FROM = 0.6  # display levels above it are compressed in the lit room, so that no window is clipped
BACKDROP_REFLECTANCE = 0.18  # grey behind the board in the lit room: the usual grey card
NEUTRAL_BOARD, NEUTRAL_OUTSIDE = 96, 48  # sRGB codes of false colour's board and surround

# The phone camera
MID_GREY = 0.18  # the mean of the frame is exposed to this, the board filling it: common practice, no source
# Share of each channel's signal (rows red, green, blue) that comes from the red, green and blue light of sRGB. Filters
# over a sensor overlap about so much: assumed, no source. Rows sum to 1, so white stays white
CHANNEL_OVERLAP = ((0.84, 0.11, 0.05), (0.12, 0.68, 0.20), (0.02, 0.16, 0.82))
# Stops above an exposure for the lit spots alone, at most: software holds back where a few spots would burn out:
# common practice, no source; the number is assumed
STOPS_OVER_LIT = 4.0

# False colour
# The ramp's lightness rises evenly, which every kind of colour vision tells apart, while its hue turns from violet
# through red to yellow: ends and fullness chosen by eye
RAMP_LIGHTNESS = (3.0, 96.0)
RAMP_HUE_DEG = (290.0, 460.0)
RAMP_FULLNESS = 0.95  # of the greatest chroma that a display shows of that lightness and hue
RAMP_STEPS = 256
ROUND_STEPS = (1.0, 2.0, 5.0, 10.0)  # scale ends are such numbers times a power of ten
MOST_DECADES = 4.0  # the scale spans at most this, so that its dark end says something
# About where cones cease: A. Stockman, L. T. Sharpe, Ophthalmic Physiol. Opt. 26:225, 2006, fig. 1 (number from memory)
LEAST_CD_M2 = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LitBody:
    """A board on the picture grid, and what it returns of room light; its LEDs are off."""

    canvas: Canvas  # picture grid and what covers it
    xyz_per_lx: FloatArray  # [3, y, x], tristimulus values per lux of room light


def draw_body(look: Look, *, board: Board) -> LitBody:
    """The board of a look on the picture grid, in room light alone.

    Parameters
    ----------
    look : Look
        What each stack returns of room light.
    board : Board
        Edges and art on the fine grid.

    Returns
    -------
    LitBody
    """
    canvas, stack_xyz = build_canvas(board), look.room_stack_xyz_per_lx
    known = len(stack_xyz) == N_STACKS
    dark = np.zeros((3, *canvas.grid.shape))
    return LitBody(
        canvas=canvas,
        xyz_per_lx=room_map(board.maps, stack_xyz=stack_xyz, resample=canvas.resample) if known else dark,
    )


def render_pictures(look: Look, *, board: Board, design: Design, body: LitBody | None = None) -> Pictures:
    """The board as a dark-adapted eye, a phone, and a person in a lit room see it, and its luminance.

    Parameters
    ----------
    look : Look
        Light of the board (`build_look`).
    board : Board
        Edges and art on the fine grid.
    design : Design
        Viewing distance and room light.
    body : LitBody, optional
        The board without its own light; drawn here where absent.

    Returns
    -------
    Pictures
        Each uint8, shape (y, x, 3), top row first, about 10 pixels per mm, all of one size.

    Notes
    -----
    All four come from one XYZ image. In the first three the board is also lit by a little room light: DARK_ROOM_LX in
    the dark, the design's in the lit room. False colour shows the light of the LEDs alone.
    """
    body = draw_body(look, board=board) if body is None else body
    canvas, body_per_lx = body.canvas, body.xyz_per_lx
    glow = draw_glow(look.glow, board=board, canvas=canvas)
    in_the_dark = glow + DARK_ROOM_LX * body_per_lx
    scale_cd_m2 = round_scale(glow[1][canvas.windows > 0.5])
    pictures = (
        _dark_adapted(in_the_dark, canvas=canvas, distance_mm=design.view.distance_mm),
        photographed(in_the_dark),
        _lit_room(glow, body_per_lx=body_per_lx, canvas=canvas, ambient_lx=design.view.ambient_lx),
        _false_colour(glow[1], canvas=canvas, scale_cd_m2=scale_cd_m2),
    )
    dark_adapted, camera, lit_room, false_colour = (np.ascontiguousarray(picture[::-1]) for picture in pictures)
    return Pictures(
        grid=canvas.grid,
        dark_adapted=dark_adapted,
        camera=camera,
        lit_room=lit_room,
        false_colour=false_colour,
        false_colour_scale_cd_m2=scale_cd_m2,
    )


def render_dark_adapted(
    board: Board, *, design: Design, scene: Scene, tally: Tally, body: LitBody
) -> npt.NDArray[np.uint8]:
    """The first of the four pictures alone, without the figures of windows.

    Parameters
    ----------
    board, design, scene, tally : Board, Design, Scene, Tally
        As in `build_look`.
    body : LitBody
        That board without its own light, whatever currents flow.

    Returns
    -------
    ndarray of uint8, shape (y, x, 3)
        Top row first.
    """
    drawn = draw_glow(build_glow(scene, tally=tally), board=board, canvas=body.canvas)
    in_the_dark = drawn + DARK_ROOM_LX * body.xyz_per_lx
    picture = _dark_adapted(in_the_dark, canvas=body.canvas, distance_mm=design.view.distance_mm)
    return np.ascontiguousarray(picture[::-1])


def _rescaled(linear: FloatArray, *, level: FloatArray) -> FloatArray:
    """Colours brought to a display level of their largest channel; the ratios of channels, and so the hue, stay."""
    largest = linear.max(axis=0)
    return np.asarray(linear * np.divide(level, largest, out=np.zeros_like(level), where=largest > 0.0))


def _adapted_level(linear: FloatArray, *, canvas: Canvas) -> float:
    """Geometric mean of the largest channels inside windows and holes, which the eye looks at; 1 where none is lit."""
    largest = linear.max(axis=0)
    lit = largest[(canvas.open > 0.5) & (largest > DARK_CD_M2)]
    return float(np.exp(np.log(lit).mean())) if lit.size else 1.0


def _dark_adapted(xyz: FloatArray, *, canvas: Canvas, distance_mm: float) -> npt.NDArray[np.uint8]:
    """As an eye adapted to the windows in a dark room sees it: compressed, never clipped, with the eye's own veil."""
    linear = in_gamut(xyz + _veil_on(canvas, xyz=xyz, distance_mm=distance_mm))
    adapted = _adapted_level(linear, canvas=canvas)
    largest = linear.max(axis=0)
    level = response(largest, adapted_cd_m2=adapted)
    return to_pixels(_rescaled(linear, level=level / max(float(level.max()), 1e-12)))


def _veil_on(canvas: Canvas, *, xyz: FloatArray, distance_mm: float) -> FloatArray:
    """Stray light of the eye over the picture, computed on a coarser grid."""
    grid = canvas.grid
    block = max(1, round(VEIL_PIXEL_MM / grid.pitch_mm))
    coarse = Grid(
        x_min_mm=grid.x_min_mm,
        y_min_mm=grid.y_min_mm,
        pitch_mm=grid.pitch_mm * block,
        n_x=math.ceil(grid.n_x / block),
        n_y=math.ceil(grid.n_y / block),
    )
    padded = np.zeros((3, coarse.n_y * block, coarse.n_x * block))
    padded[:, : grid.n_y, : grid.n_x] = xyz
    blocks = padded.reshape(3, coarse.n_y, block, coarse.n_x, block).mean(axis=(2, 4))
    return interpolated(veil(blocks, pitch_mm=coarse.pitch_mm, distance_mm=distance_mm), source=coarse, grid=grid)


def photographed(xyz: FloatArray) -> npt.NDArray[np.uint8]:
    """The picture a phone takes of a scene on automatic; rows keep their order.

    Parameters
    ----------
    xyz : ndarray, shape (3, y, x)
        Scene [cd/m2].

    Returns
    -------
    ndarray of uint8, shape (y, x, 3)

    Notes
    -----
    The sensor is linear and no signal is negative. Its channels overlap, so even pure red light raises green a
    little: overexposed, red is full while green still rises, and the picture turns orange, then yellow; blue turns to
    cyan and white. Differences above the full channel are lost, so a window that fades at one end can look even. After
    clipping the overlap is undone, as cameras do, and the result is encoded as sRGB in 8 bits.
    """
    overlap = np.asarray(CHANNEL_OVERLAP)
    signal = np.tensordot(overlap, np.maximum(to_linear_srgb(xyz), 0.0), axes=1)
    raw = np.clip(exposure_per_cd_m2(xyz[1]) * signal, 0.0, 1.0)
    return to_pixels(np.asarray(np.tensordot(np.linalg.inv(overlap), raw, axes=1)))


def exposure_per_cd_m2(luminance_cd_m2: FloatArray) -> float:
    """Exposure of a frame: its mean at mid-grey, held back for lit spots.

    Parameters
    ----------
    luminance_cd_m2 : ndarray, shape (y, x)
        Frame [cd/m2].

    Returns
    -------
    float
        Signal per luminance [1 per cd/m2]; 0 for a dark scene.

    Notes
    -----
    Lit spots are summed up by the mean luminance weighted by luminance itself, which is that of the spots however
    large the dark around them.
    """
    mean_cd_m2 = float(luminance_cd_m2.mean())
    if not mean_cd_m2 > 0.0:
        return 0.0
    lit_cd_m2 = float((luminance_cd_m2**2).mean()) / mean_cd_m2
    return float(MID_GREY * min(1.0 / mean_cd_m2, 2.0**STOPS_OVER_LIT / lit_cd_m2))


def shoulder(level: FloatArray, *, most: float) -> FloatArray:
    """Display levels as they are up to SHOULDER_FROM, then logarithmic so that `most` becomes 1.

    Parameters
    ----------
    level : ndarray
        Linear display levels [1], at least 0.
    most : float
        Greatest of them [1].

    Returns
    -------
    ndarray
        0 to 1.

    Notes
    -----
    The logarithm is Weber's and Fechner's law: equal ratios of light look equally different. It is joined without a
    step or a kink.
    """
    span = 1.0 - SHOULDER_FROM
    reach = (most - SHOULDER_FROM) / span
    if reach <= 1.0:
        return np.asarray(np.minimum(level, 1.0))
    # Slope 1 at the joint: k / log(1 + k reach) = 1
    k = float(scipy.optimize.brentq(lambda value: value - math.log1p(value * reach), 1e-9, reach))
    above = np.maximum(level - SHOULDER_FROM, 0.0) / span
    bent = SHOULDER_FROM + span * np.log1p(k * above) / math.log1p(k * reach)
    return np.asarray(np.minimum(np.where(level <= SHOULDER_FROM, level, bent), 1.0), dtype=np.float64)


def _lit_room(glow: FloatArray, *, body_per_lx: FloatArray, canvas: Canvas, ambient_lx: float) -> npt.NDArray[np.uint8]:
    """As seen in room light, exposed for the room: a perfect white is WHITE_LEVEL, windows brighter than that glow."""
    room_lx = max(ambient_lx, DARK_ROOM_LX)
    white_cd_m2 = room_lx / math.pi
    backdrop = BACKDROP_REFLECTANCE * white_cd_m2 * (1.0 - canvas.board)
    daylight = np.linalg.solve(to_linear_srgb(np.eye(3)), np.ones(3))
    xyz = glow + room_lx * body_per_lx + daylight[:, None, None] * backdrop
    linear = in_gamut(xyz * (WHITE_LEVEL / white_cd_m2))
    most = float(linear.max())
    return to_pixels(_rescaled(linear, level=shoulder(linear.max(axis=0), most=most)))


def false_colour_ramp() -> npt.NDArray[np.uint8]:
    """Colours of the scale from its low to its high end, shape (256, 3), equal steps of log luminance.

    References
    ----------
    CIE 015:2018, *Colorimetry*, 4th ed., sec. 8.2.1: lightness, chroma and hue of CIELAB.
    """
    lightness, hue_deg = (np.linspace(*ends, RAMP_STEPS) for ends in (RAMP_LIGHTNESS, RAMP_HUE_DEG))
    shown, beyond = np.zeros(RAMP_STEPS), np.full(RAMP_STEPS, 200.0)
    for _ in range(20):
        chroma = 0.5 * (shown + beyond)
        linear = _lab_to_linear_srgb(lightness, chroma=chroma, hue_rad=np.radians(hue_deg))
        is_shown = (linear.min(axis=0) >= 0.0) & (linear.max(axis=0) <= 1.0)
        shown, beyond = np.where(is_shown, chroma, shown), np.where(is_shown, beyond, chroma)
    # The greatest chroma jumps where a corner of the display's gamut is passed
    lowest = scipy.ndimage.minimum_filter1d(shown, RAMP_STEPS // 8)
    chroma = RAMP_FULLNESS * scipy.ndimage.gaussian_filter1d(lowest, RAMP_STEPS / 24)
    ramp = _lab_to_linear_srgb(lightness, chroma=chroma, hue_rad=np.radians(hue_deg))
    pixels: npt.NDArray[np.uint8] = to_pixels(ramp[:, None])[0]
    return pixels


def _lab_to_linear_srgb(lightness: FloatArray, *, chroma: FloatArray, hue_rad: FloatArray) -> FloatArray:
    """CIELAB under the white of sRGB as linear sRGB, shape (3, n)."""
    middle = (lightness + 16.0) / 116.0
    roots = np.stack([middle + chroma * np.cos(hue_rad) / 500.0, middle, middle - chroma * np.sin(hue_rad) / 200.0])
    white = np.linalg.solve(to_linear_srgb(np.eye(3)), np.ones(3))
    near_black = (roots - 4.0 / 29.0) * 3.0 * (6.0 / 29.0) ** 2
    xyz = np.asarray(white[:, None] * np.where(roots > 6.0 / 29.0, roots**3, near_black), dtype=np.float64)
    return to_linear_srgb(xyz)


def round_scale(luminance_cd_m2: FloatArray) -> tuple[float, float]:
    """Round ends of a scale that holds all luminances; dark pixels below four decades are left out.

    Parameters
    ----------
    luminance_cd_m2 : ndarray
        Luminances [cd/m2].

    Returns
    -------
    tuple of float
        Low and high end [cd/m2].

    Examples
    --------
    >>> round_scale(np.asarray([3.0, 70.0, 130.0]))
    (2.0, 200.0)
    """
    lit = luminance_cd_m2[luminance_cd_m2 > LEAST_CD_M2]
    if lit.size == 0:
        return 0.1, 1.0
    high = _rounded(float(np.percentile(lit, 99.8)), up=True)
    low = _rounded(max(float(np.percentile(lit, 0.5)), high / 10.0**MOST_DECADES), up=False)
    return min(low, high / 10.0), high


def _rounded(value: float, *, up: bool) -> float:
    decade = 10.0 ** math.floor(math.log10(value))
    steps = [step * decade for step in ROUND_STEPS]
    within = [step for step in steps if (step >= value * (1 - 1e-9) if up else step <= value * (1 + 1e-9))]
    return float(f"{min(within) if up else max(within):.6g}")


def scale_place(luminance_cd_m2: FloatArray, *, scale_cd_m2: tuple[float, float]) -> FloatArray:
    """Place of luminances on a logarithmic scale.

    Parameters
    ----------
    luminance_cd_m2 : ndarray
        Luminances [cd/m2].
    scale_cd_m2 : tuple of float
        Low and high end [cd/m2], above 0.

    Returns
    -------
    ndarray
        0 at the low end to 1 at the high end [1], clipped.
    """
    low, high = scale_cd_m2
    bounded = np.clip(luminance_cd_m2, low, high)
    return np.asarray(np.log(bounded / low) / math.log(high / low), dtype=np.float64)


def _false_colour(
    luminance_cd_m2: FloatArray, *, canvas: Canvas, scale_cd_m2: tuple[float, float]
) -> npt.NDArray[np.uint8]:
    """Luminance inside windows on the scale; board and surround in two neutral greys."""
    ramp = decode_srgb(false_colour_ramp() / 255.0)
    grey = decode_srgb(np.asarray([NEUTRAL_OUTSIDE, NEUTRAL_BOARD]) / 255.0)
    # Rim pixels hold part of a window: its own luminance is the drawn one over that part
    lit = luminance_cd_m2 / np.maximum(canvas.windows, 0.25)
    place = scale_place(lit, scale_cd_m2=scale_cd_m2)
    colours = np.moveaxis(ramp[np.rint(place * (len(ramp) - 1)).astype(np.int64)], -1, 0)
    neutral = grey[0] + (grey[1] - grey[0]) * canvas.board
    return to_pixels(neutral + canvas.windows * (colours - neutral))
