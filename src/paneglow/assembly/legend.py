"""What the legend says about a part's polarity: a bar or dot of ink at one end of its lands and not at the other."""

import math

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.board import FaceMaps, PlacedLed, board_point

END_DEPTH_MM = 1.2  # chosen: marks stand this near beyond a land; designators stand farther off
ASIDE_MM = 0.35  # chosen: a mark lies on the axis of the part, within this
INNER_SHARE = 0.25  # of the half length: ink nearer to the middle belongs to an outline or a symbol between the lands
MORE_INK = 1.5  # chosen: one end is marked where it has this many times the ink of the other
REACH_MM = 2.5  # beyond the terminals that is looked at
INKED = 0.5  # coverage from which a pixel counts as ink


def marked_ends(led: PlacedLed, *, maps: FaceMaps) -> tuple[str, ...]:
    """Names of the terminals at whose ends the legend has a mark: none, one, or both where the ink is alike.

    Parameters
    ----------
    led : PlacedLed
        Of two terminals; none for any other.
    maps : FaceMaps

    Notes
    -----
    Connected ink counts where it lies wholly beyond one end, on the part's axis and no farther than `END_DEPTH_MM`
    from where the metal of the terminal ends or the land under it may reach.
    """
    terminals = led.part.terminals
    if terminals is None or len(terminals.pads) != 2:
        return ()
    first, second = terminals.pads
    ink = {pad.name: 0.0 for pad in terminals.pads}
    ends = {pad.name: board_point(led, point_mm=pad.at_mm) for pad in terminals.pads}
    middle = tuple((a + b) / 2 for a, b in zip(ends[first.name], ends[second.name], strict=True))
    half = math.dist(ends[first.name], ends[second.name]) / 2
    axis = tuple((b - m) / half for b, m in zip(ends[second.name], middle, strict=True))
    reach = half + max(first.length_mm, second.length_mm) / 2 + REACH_MM
    for along, across, area in _strokes(led, maps=maps, middle=middle, axis=axis, reach_mm=reach):
        beyond = np.abs(along)
        if abs(across.min() + across.max()) / 2 > ASIDE_MM or np.sign(along.min()) != np.sign(along.max()):
            continue
        if beyond.min() > INNER_SHARE * half and beyond.max() <= reach - REACH_MM + 2 * END_DEPTH_MM:
            ink[second.name if along.min() > 0 else first.name] += area
    less, more = sorted(ink, key=ink.__getitem__)
    if ink[more] > MORE_INK * ink[less]:
        return (more,)
    return (less, more) if ink[less] > 0.0 else ()


def _strokes(
    led: PlacedLed, *, maps: FaceMaps, middle: tuple[float, ...], axis: tuple[float, ...], reach_mm: float
) -> list[tuple[npt.NDArray[np.float64], npt.NDArray[np.float64], float]]:
    """Connected pieces of ink about a part: places along and across its axis [mm], and their area [mm2]."""
    legend = maps.legend_front if led.side == "front" else maps.legend_back
    x_mm, y_mm = maps.grid.x_centres_mm(), maps.grid.y_centres_mm()
    rows = np.flatnonzero(np.abs(y_mm - middle[1]) <= reach_mm)
    columns = np.flatnonzero(np.abs(x_mm - middle[0]) <= reach_mm)
    if rows.size == 0 or columns.size == 0:
        return []
    labels, count = scipy.ndimage.label(legend[np.ix_(rows, columns)] > INKED, structure=np.ones((3, 3)))
    found = []
    for number in range(1, count + 1):
        row, column = np.nonzero(labels == number)
        x, y = x_mm[columns[column]] - middle[0], y_mm[rows[row]] - middle[1]
        along, across = x * axis[0] + y * axis[1], y * axis[0] - x * axis[1]
        found.append((along, across, row.size * maps.grid.pitch_mm**2))
    return found
