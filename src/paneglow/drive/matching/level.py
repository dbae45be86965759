"""Brightness matching on plain arrays: drive values that make windows equally luminous, or in chosen ratios."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.checks import check_shape
from paneglow.errors import RangeError

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

REACH_TOLERANCE = 1e-6  # of a luminance: what the solver of linear programs leaves open
LIMIT_TOLERANCE = 1e-9  # of a limit: what solving linear equations may leave by rounding
# A level below this share of the most light any window can get is darkness: the solver tells apart 1e-7 of it
DARK_FRAC = 1e-9
# A thousandth of the faintest light that the dark-adapted eye sees, 1e-6 cd/m2 (secondary page seen): darkness
DARK_CD_M2 = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatchProblem:
    """Windows to match, and the drive variables: currents of strings, or brightness of scanned LEDs.

    Attributes
    ----------
    light : ndarray, shape (window, variable)
        Luminance per unit of each variable [cd/m2], at least 0.
    fixed_cd_m2 : ndarray, shape (window,)
        What the windows get from LEDs that no variable sets.
    ratio : ndarray, shape (window,)
        Luminance asked, over the common level [1], above 0.
    most : ndarray, shape (variable,)
        Greatest value of each variable.
    load_ma : ndarray, shape (variable,)
        Mean current from the supply per unit of each variable [mA].
    load_most_ma : float
        What the supply has for all variables together [mA].
    level_cd_m2 : float or None
        Common level asked; None for the greatest there is.
    """

    light: FloatArray
    fixed_cd_m2: FloatArray
    ratio: FloatArray
    most: FloatArray
    load_ma: FloatArray
    load_most_ma: float
    level_cd_m2: float | None = None

    def __post_init__(self) -> None:
        windows, variables = self.light.shape
        for name, length in (
            ("fixed_cd_m2", windows), ("ratio", windows), ("most", variables), ("load_ma", variables)
        ):  # fmt: skip
            check_shape(name, getattr(self, name), shape=(length,))
        if windows == 0 or np.any(self.ratio <= 0.0) or np.any(self.light < 0.0):
            raise RangeError("a match needs at least one window, ratios above 0 and light of 0 or more")

    @property
    def reach(self) -> FloatArray:
        """Greatest value of each variable were the supply its alone, shape (variable,)."""
        with np.errstate(over="ignore"):  # one that takes next to nothing may be raised for ever
            borne = np.divide(
                self.load_most_ma, self.load_ma, out=np.full_like(self.load_ma, np.inf), where=self.load_ma > 0.0
            )
        return np.asarray(np.minimum(self.most, borne))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Matched:
    """Values of the variables and what the windows then show.

    Attributes
    ----------
    value : ndarray, shape (variable,)
    luminance_cd_m2 : ndarray, shape (window,)
    level_cd_m2 : float
        Common level that all windows that can reach it stand at, times their ratio.
    within_reach : ndarray of bool, shape (window,)
        Whether the limits of its own variables let the window reach what is asked.
    """

    value: FloatArray
    luminance_cd_m2: FloatArray
    level_cd_m2: float
    within_reach: BoolArray

    @property
    def held(self) -> BoolArray:
        """Windows kept at the common level, shape (window,): those within reach, or all where none is."""
        return self.within_reach if self.within_reach.any() else ~self.within_reach

    def shortfall_frac(self, ratio: FloatArray) -> FloatArray:
        """How far each window stays below its share of the level [1], shape (window,); below 0 where it is above."""
        asked = self.level_cd_m2 * ratio
        return np.asarray(1.0 - np.divide(self.luminance_cd_m2, asked, out=np.ones_like(asked), where=asked > 0.0))


def match_light(problem: MatchProblem) -> Matched:
    """Values that bring all windows to one level times their ratios, within every limit.

    Parameters
    ----------
    problem : MatchProblem

    Returns
    -------
    Matched
        Windows that the limits of their own variables keep below the level get as near as they can and hold nothing
        else back; where none can reach it, all stand at the greatest level they share. Where the supply cannot bear the
        level asked, all others stand at the greatest common level it bears. Where no common level exists (light of one
        window reaches another), the greatest relative departure is as small as can be.

    Raises
    ------
    RangeError
        If what no variable sets already takes more than the supply has.

    Notes
    -----
    Light is linear in every variable, so each question is a linear program, solved by HiGHS through scipy. Where there
    are as many independent windows as variables, a level that they share has one answer only, which linear equations
    give.

    References
    ----------
    Q. Huangfu, J. A. J. Hall, Math. Prog. Comp. 10:119 (2018): HiGHS.
    """
    scaled, value_unit, light_unit = _scaled_problem(problem)
    asked, within = scaled.level_cd_m2, np.ones(len(problem.ratio), dtype=np.bool_)
    if asked is not None:
        # What the supply lacks, all windows lack alike; only limits of its own set a window apart
        alone = scaled.light @ scaled.most + scaled.fixed_cd_m2
        within = alone >= asked * scaled.ratio * (1.0 - REACH_TOLERANCE)
    # Where no window can reach what is asked there is nothing that could be held back: all share what they have
    sharing = within if within.any() else np.ones_like(within)
    greatest = _greatest_shared(scaled, windows=sharing)
    if greatest is None and (asked is None or not within.any()):
        greatest = _greatest_level(scaled, windows=sharing, exact=False)
    level = min((bound for bound in (asked, greatest) if bound is not None), default=0.0)
    if level <= DARK_FRAC:
        level, value = 0.0, np.zeros_like(problem.most)  # without light there is nothing to match
    else:
        line = _shared_line(scaled) if sharing.all() else None
        exact = None if line is None else line[0] + level * line[1]
        value = (
            exact
            if exact is not None and _keeps_limits(scaled, exact)
            else _nearest_values(scaled, level=level, within=sharing)
        )
    value = np.minimum(np.maximum(value, 0.0) * value_unit, problem.most)
    return Matched(
        value=value,
        luminance_cd_m2=problem.light @ value + problem.fixed_cd_m2,
        level_cd_m2=level * light_unit,
        within_reach=within,
    )


def greatest_level_cd_m2(problem: MatchProblem, *, without: int | None = None) -> float:
    """Greatest common level that all windows, or all but one, can share exactly [cd/m2]; 0 where there is none.

    Parameters
    ----------
    problem : MatchProblem
    without : int, optional
        Number of the window that is left out.
    """
    scaled, _, light_unit = _scaled_problem(problem)
    level = _greatest_shared(scaled, windows=np.arange(len(problem.ratio)) != without) or 0.0
    return level * light_unit if level > DARK_FRAC else 0.0


def _scaled_problem(problem: MatchProblem) -> tuple[MatchProblem, FloatArray, float]:
    """The problem in units in which the reach of every variable, the brightest window and the supply are 1; the units.

    The tolerances of the solver are absolute, so the numbers it sees must not depend on how small a limit is.
    """
    # A supply that has nothing left still needs a unit
    supply_ma = problem.load_most_ma if problem.load_most_ma > 0.0 else 1.0
    unit = replace(problem, load_most_ma=supply_ma).reach
    brightest = float(np.max(problem.light @ unit + problem.fixed_cd_m2))
    light_unit = brightest if brightest > DARK_CD_M2 else 1.0
    scaled = MatchProblem(
        light=problem.light * unit / light_unit,
        fixed_cd_m2=problem.fixed_cd_m2 / light_unit,
        ratio=problem.ratio,
        most=np.divide(problem.most, unit, out=np.zeros_like(unit), where=unit > 0.0),
        load_ma=problem.load_ma * unit / supply_ma,
        load_most_ma=problem.load_most_ma / supply_ma,
        level_cd_m2=None if problem.level_cd_m2 is None else problem.level_cd_m2 / light_unit,
    )
    return scaled, unit, light_unit


def _shared_line(problem: MatchProblem) -> tuple[FloatArray, FloatArray] | None:
    """Start and slope of the one set of values at which all windows stand at level t: start + t slope.

    None where the windows do not determine the values.
    """
    windows, variables = problem.light.shape
    if windows != variables or np.linalg.matrix_rank(problem.light) < variables:
        return None
    start, slope = np.linalg.solve(problem.light, np.column_stack([-problem.fixed_cd_m2, problem.ratio])).T
    return (start, slope) if np.all(np.isfinite(start + slope)) else None


def _keeps_limits(problem: MatchProblem, value: FloatArray) -> bool:
    slack = LIMIT_TOLERANCE * (1.0 + np.abs(value))
    within = np.all(value >= -slack) and np.all(value <= problem.most + slack)
    return bool(within and problem.load_ma @ value <= problem.load_most_ma + LIMIT_TOLERANCE)


def _greatest_shared(problem: MatchProblem, *, windows: BoolArray) -> float | None:
    """Greatest level above 0 that some windows can share exactly; None where there is none."""
    if not windows.any():
        return None
    chosen = _of_windows(problem, windows)
    line = _shared_line(chosen)
    if line is None:
        return _greatest_level(problem, windows=windows, exact=True)
    start, slope = line
    # Every limit of values and supply as t * rise <= room
    rise = np.concatenate([-slope, slope, [problem.load_ma @ slope]])
    room = np.concatenate([start, problem.most - start, [problem.load_most_ma - problem.load_ma @ start]])
    level = float(np.min(room[rise > 0.0] / rise[rise > 0.0], initial=np.inf))
    return level if 0.0 < level < np.inf and _keeps_limits(problem, start + level * slope) else None


def _of_windows(problem: MatchProblem, windows: BoolArray) -> MatchProblem:
    return replace(
        problem, light=problem.light[windows], fixed_cd_m2=problem.fixed_cd_m2[windows], ratio=problem.ratio[windows]
    )


def _greatest_level(problem: MatchProblem, *, windows: BoolArray, exact: bool) -> float | None:
    """Greatest t with light @ value + fixed = t * ratio (at least that where not exact); None where there is none."""
    chosen = _of_windows(problem, windows)
    rows = np.column_stack([chosen.light, -chosen.ratio])
    bounds = [*((0.0, most) for most in problem.most), (0.0, None)]
    budget, most_ma = np.append(problem.load_ma, 0.0)[None], np.array([problem.load_most_ma])
    aim, fixed = np.append(np.zeros(len(problem.most)), -1.0), chosen.fixed_cd_m2
    found: scipy.optimize.OptimizeResult = (
        scipy.optimize.linprog(aim, A_ub=budget, b_ub=most_ma, A_eq=rows, b_eq=-fixed, bounds=bounds)
        if exact
        else scipy.optimize.linprog(aim, A_ub=np.vstack([budget, -rows]), b_ub=np.append(most_ma, fixed), bounds=bounds)
    )
    return float(found.x[-1]) if found.success and found.x[-1] > 0.0 else None


def _nearest_values(problem: MatchProblem, *, level: float, within: BoolArray) -> FloatArray:
    """Values that keep the greatest departure of windows within reach least, then lift the others as far as can be."""
    windows, variables = problem.light.shape
    share = problem.light / (level * problem.ratio)[:, None]
    asked = 1.0 - problem.fixed_cd_m2 / (level * problem.ratio)
    # Unknowns: values, then one departure for all windows within reach, then the shortfall of every window
    short = np.hstack([-share, np.zeros((windows, 1)), -np.eye(windows)])
    over, under = np.hstack([share, -np.ones((windows, 1)), np.zeros((windows, windows))]), short.copy()
    under[:, variables + 1 :] = 0.0
    under[:, variables] = -1.0
    load = np.append(problem.load_ma, np.zeros(1 + windows))[None]
    rows = np.vstack([over, under[within], short, load])
    sides = np.concatenate([asked, -asked[within], -asked, [problem.load_most_ma]])
    bounds = [*((0.0, most) for most in problem.most), (0.0, None), *((0.0, None) for _ in range(windows))]
    # The departure of those within reach counts before any shortfall of the others
    aim = np.concatenate([np.zeros(variables), [1e3 * windows], np.ones(windows)])
    found: scipy.optimize.OptimizeResult = scipy.optimize.linprog(aim, A_ub=rows, b_ub=sides, bounds=bounds)
    if not found.success:
        raise RangeError("no drive values keep the limits: what is not matched already takes more than the supply has")
    return np.asarray(found.x[:variables])
