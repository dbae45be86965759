"""Front, back and windows of a board as one picture: what the fabrication files say, before any light."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.board.records import CoverageMap, FaceMaps, Window, WindowSurvey, WindowUse
from paneglow.errors import FabricationError
from paneglow.fab import Stroke, build_text, draw_strokes, text_width_mm
from paneglow.grid import Grid

Colour = tuple[int, int, int]
Floats = npt.NDArray[np.float32]
Picture = npt.NDArray[np.uint8]

PIXELS_PER_MM = 10  # a 100 mm board is then 1000 pixels wide on screen
GAP_MM = 4.0  # between front and back, and round both
# Colours are our choice: a neutral grey mask, so that no real mask colour is suggested
PAPER: Colour = (248, 246, 241)
LAMINATE: Colour = (222, 210, 168)
COPPER: Colour = (196, 141, 79)
MASK: Colour = (92, 101, 108)
MASK_OPACITY = 0.78  # copper stays visible through it
INK: Colour = (250, 250, 247)
HOLE: Colour = (30, 32, 36)
TINTS: dict[WindowUse, Colour] = {
    "window": (255, 176, 0),
    "artwork": (42, 170, 158),
    "clearance": (150, 110, 200),
}
LEGEND: dict[WindowUse, str] = {
    "window": "windows ({count}): mask open on both faces",
    "artwork": "artwork ({count}): bare on one face",
    "clearance": "clearances ({count}): narrow gaps round pads",
}
LEAST_NAMED_MM = 2.0  # width of what is named that is no window (our choice)
LEGEND_MM = 2.2  # height of its letters
TINT_OPACITY = 0.5
RIM_SHADE = 0.45  # rims of windows: their tint, darker
LABEL: Colour = (20, 22, 26)
LABEL_HALO: Colour = (255, 255, 255)
LABEL_SHARE = 0.45  # of the largest disc in the window
LABEL_HEIGHT_MM = (0.9, 3.0)
TEXT_PEN_SHARE = 0.14  # pens over the height of the text
HALO_PEN_SHARE = 0.36
HALO_OPACITY = 0.75


def draw_survey(maps: FaceMaps, survey: WindowSurvey) -> Picture:
    """Front and back side by side, with windows tinted and named.

    Parameters
    ----------
    maps : FaceMaps
        Coverage maps of the board.
    survey : WindowSurvey
        Its windows.

    Returns
    -------
    ndarray of uint8, shape (y, x, 3)
        sRGB, first row at the top, about 10 pixels per mm. The back is seen from behind, so left and right change
        places there. Under them a legend says what the tints mean and how many there are of each.
    """
    step = max(1, round(1 / (PIXELS_PER_MM * maps.grid.pitch_mm)))
    front = _face(maps, survey, step=step, copper=maps.copper_front, mask=maps.mask_front, ink=maps.legend_front)
    back = _face(maps, survey, step=step, copper=maps.copper_back, mask=maps.mask_back, ink=maps.legend_back)
    grid = _picture_grid(maps.grid, step=step)
    front = _with_labels(front, survey, grid=grid, mirrored=False)
    back = _with_labels(back[:, ::-1], survey, grid=grid, mirrored=True)
    gap = round(GAP_MM / grid.pitch_mm)
    paper = np.empty((front.shape[0] + 2 * gap, 2 * front.shape[1] + 3 * gap, 3), dtype=np.float32)
    paper[:] = PAPER
    paper[gap:-gap, gap : gap + front.shape[1]] = front[::-1]
    paper[gap:-gap, -gap - back.shape[1] : -gap] = back[::-1]
    legend = _legend(survey, width_px=paper.shape[1], pitch_mm=grid.pitch_mm)
    picture: Picture = np.round(np.clip(np.concatenate([paper, legend]), 0, 255)).astype(np.uint8)
    return picture


def _legend(survey: WindowSurvey, *, width_px: int, pitch_mm: float) -> Floats:
    """A line for every use that is on the board: its tint, how many there are, and what it means."""
    counts = {use: sum(window.use == use for window in survey.windows) for use in TINTS}
    lines = [(colour, LEGEND[use].format(count=counts[use])) for use, colour in TINTS.items() if counts[use]]
    # Letters as tall as are wanted, or as the longest line leaves room for
    longest = max((text_width_mm(words, height_mm=1.0) for _, words in lines), default=1.0)
    height = min(LEGEND_MM, (width_px * pitch_mm - 2 * GAP_MM) / (longest + 2.0))
    row_mm = 1.8 * height
    rows = max(1, round((len(lines) * row_mm + GAP_MM) / pitch_mm)) if lines else 0
    grid = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=pitch_mm, n_x=width_px, n_y=max(rows, 1))
    band = np.empty((*grid.shape, 3), dtype=np.float32)
    band[:] = PAPER
    x_mm, y_mm = grid.x_centres_mm(), grid.y_centres_mm()
    for number, (colour, words) in enumerate(lines, start=1):
        low = grid.n_y * pitch_mm - number * row_mm
        across = (x_mm >= GAP_MM) & (x_mm <= GAP_MM + height)
        upward = (y_mm >= low) & (y_mm <= low + height)
        band[np.ix_(upward, across)] = colour
        text = build_text(words, at_mm=(GAP_MM + 2 * height, low), height_mm=height, pen_mm=TEXT_PEN_SHARE * height)
        _lay(band, draw_strokes(text, grid=grid), LABEL)
    return band[::-1][:rows]


def _face(
    maps: FaceMaps, survey: WindowSurvey, *, step: int, copper: CoverageMap, mask: CoverageMap, ink: CoverageMap
) -> Floats:
    """One face as seen from the front, rows from the lowest."""
    face = np.empty((*_shrunk(copper, step=step).shape, 3), dtype=np.float32)
    face[:] = PAPER
    layers = (
        (maps.outline_inside, LAMINATE, 1.0),
        (copper, COPPER, 1.0),
        (mask, MASK, MASK_OPACITY),
        (np.minimum(ink, maps.inside), INK, 0.9),
        (maps.holes, HOLE, 1.0),
    )
    for cover, colour, opacity in layers:
        _lay(face, _shrunk(cover, step=step) * opacity, colour)
    for use, colour in TINTS.items():
        members = [index for index, window in enumerate(survey.windows, start=1) if window.use == use]
        if members:
            here = np.isin(survey.labels, members)
            rim = here & ~scipy.ndimage.binary_erosion(here, iterations=step)
            _lay(face, _shrunk(here.astype(np.float32), step=step) * TINT_OPACITY, colour)
            dark: Colour = (int(colour[0] * RIM_SHADE), int(colour[1] * RIM_SHADE), int(colour[2] * RIM_SHADE))
            _lay(face, _shrunk(rim.astype(np.float32), step=step), dark)
    return face


def _with_labels(face: Floats, survey: WindowSurvey, *, grid: Grid, mirrored: bool) -> Floats:
    """Names of windows over a face, larger windows first, none over another.

    `mirrored` is for a face whose left and right have changed places.
    """
    middle = grid.x_min_mm + grid.n_x * grid.pitch_mm / 2
    taken: list[tuple[float, float, float, float]] = []
    text: list[Stroke] = []
    halo: list[Stroke] = []
    for number, window in sorted(enumerate(survey.windows, start=1), key=lambda item: -item[1].area_mm2):
        if window.use != "window" and window.width_mm < LEAST_NAMED_MM:
            continue  # hundreds of names on gaps and specks hide those that matter
        x_mm, y_mm = window.centre_mm
        label = _label(window, number, at_mm=(2 * middle - x_mm if mirrored else x_mm, y_mm))
        if any(_overlap(label.box_mm, other) for other in taken):
            continue
        taken.append(label.box_mm)
        text += label.strokes(pen_share=TEXT_PEN_SHARE)
        halo += label.strokes(pen_share=HALO_PEN_SHARE)
    labelled = face.copy()
    _lay(labelled, draw_strokes(halo, grid=grid) * np.float32(HALO_OPACITY), LABEL_HALO)
    _lay(labelled, draw_strokes(text, grid=grid), LABEL)
    return labelled


class _Label(NamedTuple):
    """One line of text centred on a point."""

    text: str
    at_mm: tuple[float, float]
    height_mm: float

    @property
    def box_mm(self) -> tuple[float, float, float, float]:
        """Box round the text, halo included."""
        half = text_width_mm(self.text, height_mm=self.height_mm) / 2 + HALO_PEN_SHARE * self.height_mm / 2
        tall = self.height_mm * (1 + HALO_PEN_SHARE) / 2
        return self.at_mm[0] - half, self.at_mm[1] - tall, self.at_mm[0] + half, self.at_mm[1] + tall

    def strokes(self, *, pen_share: float) -> tuple[Stroke, ...]:
        """The text with a pen of a share of its height."""
        base = (self.at_mm[0], self.at_mm[1] - self.height_mm / 2)
        pen = pen_share * self.height_mm
        return build_text(self.text, at_mm=base, height_mm=self.height_mm, pen_mm=pen, align="centre")


def _label(window: Window, number: int, *, at_mm: tuple[float, float]) -> _Label:
    least, most = LABEL_HEIGHT_MM
    name = _drawable(window.name, number)
    fitting = 0.9 * window.width_mm / max(text_width_mm(name, height_mm=1.0), 1.0)
    height = float(np.clip(min(LABEL_SHARE * window.width_mm, fitting), least, most))
    return _Label(text=name, at_mm=at_mm, height_mm=height)


def _overlap(first: tuple[float, float, float, float], second: tuple[float, float, float, float]) -> bool:
    return first[0] < second[2] and second[0] < first[2] and first[1] < second[3] and second[1] < first[3]


def _drawable(name: str, number: int) -> str:
    """The name where the pen knows all its letters, else the number of the window."""
    try:
        text_width_mm(name, height_mm=1.0)
    except FabricationError:
        return str(number)
    return name


def _lay(face: Floats, cover: Floats, colour: Colour) -> None:
    face += cover[..., None] * (np.asarray(colour, dtype=np.float32) - face)


def _shrunk(cover: CoverageMap, *, step: int) -> Floats:
    """Mean over blocks of pixels; the last row and column of blocks may be cut short."""
    if step == 1:
        return cover.astype(np.float32)
    rows, columns = (-size % step for size in cover.shape)
    padded = np.pad(cover, ((0, rows), (0, columns)), mode="edge")
    blocks = padded.reshape(padded.shape[0] // step, step, padded.shape[1] // step, step)
    shrunk: Floats = blocks.mean(axis=(1, 3), dtype=np.float32)
    return shrunk


def _picture_grid(grid: Grid, *, step: int) -> Grid:
    return Grid(
        x_min_mm=grid.x_min_mm,
        y_min_mm=grid.y_min_mm,
        pitch_mm=grid.pitch_mm * step,
        n_x=-(-grid.n_x // step),
        n_y=-(-grid.n_y // step),
    )
