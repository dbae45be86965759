"""Matches that the windows alone determine: as many independent windows as knobs leave one answer at every level."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

LIMIT_TOLERANCE = 1e-9  # of a limit: what solving for the knobs may leave by rounding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatchLine:
    """The one set of knobs at which all windows stand at level t times their ratio: `start + t * slope`.

    Attributes
    ----------
    start, slope : ndarray, shape (knob,)
    rise, room : ndarray, shape (limit,)
        Every limit of knobs and supply as `t * rise <= room`.
    """

    start: FloatArray
    slope: FloatArray
    rise: FloatArray
    room: FloatArray

    def greatest_level(self) -> float | None:
        """Greatest level within every limit, above 0; None where there is none."""
        level = float(np.min(self.room[self.rise > 0.0] / self.rise[self.rise > 0.0], initial=np.inf))
        return level if 0.0 < level < np.inf and self.allows(level) else None

    def allows(self, level: float) -> bool:
        """Whether the knobs at a level keep every limit."""
        size = np.abs(self.room) + np.abs(level * self.rise)
        return bool(np.all(level * self.rise <= self.room + LIMIT_TOLERANCE * size))

    def value(self, level: float) -> FloatArray:
        """Knobs at a level, shape (knob,)."""
        return self.start + level * self.slope


def build_match_line(
    light: FloatArray,
    *,
    fixed_cd_m2: FloatArray,
    ratio: FloatArray,
    most: FloatArray,
    load_ma: FloatArray,
    load_most_ma: float,
) -> MatchLine | None:
    """The line of matches; None where the windows do not determine the knobs. Arguments as in `MatchProblem`."""
    windows, knobs = light.shape
    if windows != knobs or np.linalg.matrix_rank(light) < knobs:
        return None
    start, slope = np.linalg.solve(light, np.column_stack([-fixed_cd_m2, ratio])).T
    if not np.all(np.isfinite(start + slope)):
        return None
    return MatchLine(
        start=start,
        slope=slope,
        rise=np.concatenate([-slope, slope, [load_ma @ slope]]),
        room=np.concatenate([start, most - start, [load_most_ma - load_ma @ start]]),
    )
