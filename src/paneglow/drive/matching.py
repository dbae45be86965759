"""Brightness matching on plain arrays: drive values that make windows equally luminous, or in chosen ratios."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.checks import check_shape
from paneglow.drive.match_line import MatchLine, build_match_line
from paneglow.errors import RangeError

FloatArray = npt.NDArray[np.float64]

REACH_TOLERANCE = 1e-6  # of a luminance: what the solver of linear programs leaves open
# A level below this share of the most light any window can get is darkness: the solver tells apart 1e-7 of it
DARK_FRAC = 1e-9
# A thousandth of the faintest light that the dark-adapted eye sees, 1e-6 cd/m2 (from memory): windows below are dark
DARK_CD_M2 = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatchProblem:
    """Windows to match, and the knobs that can be turned: currents of strings, or brightness of scanned LEDs.

    Attributes
    ----------
    light : ndarray, shape (window, knob)
        Luminance per unit of each knob [cd/m2], at least 0.
    fixed_cd_m2 : ndarray, shape (window,)
        What the windows get from LEDs that are not turned.
    ratio : ndarray, shape (window,)
        Luminance asked, over the common level [1], above 0.
    most : ndarray, shape (knob,)
        Greatest value of each knob.
    load_ma : ndarray, shape (knob,)
        Mean current from the supply per unit of each knob [mA].
    load_most_ma : float
        What the supply has for all knobs together [mA].
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
        windows, knobs = self.light.shape
        for name, length in (("fixed_cd_m2", windows), ("ratio", windows), ("most", knobs), ("load_ma", knobs)):
            check_shape(name, getattr(self, name), shape=(length,))
        if windows == 0 or np.any(self.ratio <= 0.0) or np.any(self.light < 0.0):
            raise RangeError("a match needs at least one window, ratios above 0 and light of 0 or more")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Matched:
    """Values of the knobs and what the windows then show.

    Attributes
    ----------
    value : ndarray, shape (knob,)
    luminance_cd_m2 : ndarray, shape (window,)
    level_cd_m2 : float
        Common level that all windows that can reach it stand at, times their ratio.
    within_reach : ndarray of bool, shape (window,)
        Whether the limits of its own knobs let the window reach what is asked.
    """

    value: FloatArray
    luminance_cd_m2: FloatArray
    level_cd_m2: float
    within_reach: npt.NDArray[np.bool_]

    def shortfall_frac(self, ratio: FloatArray) -> FloatArray:
        """How far each window stays below its share of the level [1], shape (window,); below 0 where it is above."""
        asked = self.level_cd_m2 * ratio
        return np.asarray(1.0 - np.divide(self.luminance_cd_m2, asked, out=np.ones_like(asked), where=asked > 0.0))


def match_light(problem: MatchProblem) -> Matched:
    """Values that bring all windows to one level times their ratios, within every limit.

    Returns
    -------
    Matched
        Windows that cannot reach the level even alone get as near as they can and hold nothing else back. Where the
        supply cannot bear the level asked, all others stand at the greatest common level it bears. Where no common
        level exists (light of one window reaches another), the greatest relative departure is as small as can be.

    Notes
    -----
    Light is linear in every knob, so each question is a linear program; solved by HiGHS (Huangfu and Hall, Math. Prog.
    Comp. 10:119, 2018) through scipy. Where there are as many independent windows as knobs, a level that they share
    has one answer only, which linear equations give.
    """
    scale = _scale_of(problem)
    matched = _match_scaled(scale.apply(problem))
    value = np.minimum(matched.value * scale.knob, problem.most)
    return Matched(
        value=value,
        luminance_cd_m2=problem.light @ value + problem.fixed_cd_m2,
        level_cd_m2=matched.level_cd_m2 * scale.light_cd_m2,
        within_reach=matched.within_reach,
    )


def greatest_level_cd_m2(problem: MatchProblem) -> float:
    """Greatest common level that all windows can share exactly [cd/m2]; 0 where there is none."""
    everyone = np.ones(len(problem.ratio), dtype=np.bool_)
    return _greatest_exact_cd_m2(problem, windows=everyone)


def greatest_level_without(problem: MatchProblem, *, window: int) -> float:
    """Greatest common level of the other windows, were this one left out of the match [cd/m2]."""
    others = np.arange(len(problem.ratio)) != window
    return _greatest_exact_cd_m2(problem, windows=others)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Scale:
    """Units in which the reach of every knob, the brightest window and the supply are 1; a knob without reach has 0.

    The tolerances of the solver are absolute, so the numbers it sees must not depend on how small a limit is.
    """

    knob: FloatArray
    light_cd_m2: float
    load_ma: float

    def apply(self, problem: MatchProblem) -> MatchProblem:
        level = problem.level_cd_m2
        return MatchProblem(
            light=problem.light * self.knob / self.light_cd_m2,
            fixed_cd_m2=problem.fixed_cd_m2 / self.light_cd_m2,
            ratio=problem.ratio,
            most=np.divide(problem.most, self.knob, out=np.zeros_like(self.knob), where=self.knob > 0.0),
            load_ma=problem.load_ma * self.knob / self.load_ma,
            load_most_ma=problem.load_most_ma / self.load_ma,
            level_cd_m2=None if level is None else level / self.light_cd_m2,
        )


def _scale_of(problem: MatchProblem) -> _Scale:
    # A supply that has nothing left still needs a unit
    supply_ma = problem.load_most_ma if problem.load_most_ma > 0.0 else 1.0
    reach = np.minimum(problem.most, _bearable(problem.load_ma, load_most_ma=supply_ma))
    brightest = float(np.max(problem.light @ reach + problem.fixed_cd_m2))
    return _Scale(knob=reach, light_cd_m2=brightest if brightest > DARK_CD_M2 else 1.0, load_ma=supply_ma)


def _bearable(load_ma: FloatArray, *, load_most_ma: float) -> FloatArray:
    """Value of each knob that takes all the supply has, shape (knob,)."""
    with np.errstate(over="ignore"):  # a knob that takes next to nothing may be turned for ever
        return np.asarray(np.divide(load_most_ma, load_ma, out=np.full_like(load_ma, np.inf), where=load_ma > 0.0))


def _match_scaled(problem: MatchProblem) -> Matched:
    within = _within_reach(problem)
    level = _level(problem, within=within)
    line = _line(problem, windows=within) if within.all() else None
    if level <= DARK_FRAC:
        level, value = 0.0, np.zeros_like(problem.most)  # without light there is nothing to match
    elif line is not None and line.allows(level):
        value = np.clip(line.value(level), 0.0, problem.most)
    else:
        value = _nearest(problem, level=level, within=within)
    return Matched(
        value=value,
        luminance_cd_m2=problem.light @ value + problem.fixed_cd_m2,
        level_cd_m2=level,
        within_reach=within,
    )


def _greatest_exact_cd_m2(problem: MatchProblem, *, windows: npt.NDArray[np.bool_]) -> float:
    scale = _scale_of(problem)
    level = _greatest_level(scale.apply(problem), windows=windows, exact=True) or 0.0
    return level * scale.light_cd_m2 if level > DARK_FRAC else 0.0


def _level(problem: MatchProblem, *, within: npt.NDArray[np.bool_]) -> float:
    """The level asked, or less where all within reach cannot share it exactly but can share a lower one."""
    asked = problem.level_cd_m2
    greatest = _greatest_level(problem, windows=within, exact=True)
    if asked is None:
        return greatest or _greatest_level(problem, windows=within, exact=False) or 0.0
    return asked if greatest is None else min(asked, greatest)


def _within_reach(problem: MatchProblem) -> npt.NDArray[np.bool_]:
    if problem.level_cd_m2 is None:
        return np.ones(len(problem.ratio), dtype=np.bool_)
    # Alone on the supply: each knob up to its own limit, or to what the whole supply bears
    reach = np.minimum(problem.most, _bearable(problem.load_ma, load_most_ma=problem.load_most_ma))
    alone = problem.light @ reach + problem.fixed_cd_m2
    return np.asarray(alone >= problem.level_cd_m2 * problem.ratio * (1.0 - REACH_TOLERANCE))


def _line(problem: MatchProblem, *, windows: npt.NDArray[np.bool_]) -> MatchLine | None:
    return build_match_line(
        problem.light[windows],
        fixed_cd_m2=problem.fixed_cd_m2[windows],
        ratio=problem.ratio[windows],
        most=problem.most,
        load_ma=problem.load_ma,
        load_most_ma=problem.load_most_ma,
    )


def _greatest_level(problem: MatchProblem, *, windows: npt.NDArray[np.bool_], exact: bool) -> float | None:
    """Greatest t with light @ value + fixed = t * ratio (at least that where not exact); None where there is none."""
    if not windows.any():
        return None
    line = _line(problem, windows=windows) if exact else None
    if line is not None:
        return line.greatest_level()
    knobs = len(problem.most)
    rows = np.column_stack([problem.light[windows], -problem.ratio[windows]])
    bounds = [*((0.0, most) for most in problem.most), (0.0, None)]
    budget, most_ma = np.append(problem.load_ma, 0.0)[None], np.array([problem.load_most_ma])
    aim = np.append(np.zeros(knobs), -1.0)
    fixed = problem.fixed_cd_m2[windows]
    found: scipy.optimize.OptimizeResult = (
        scipy.optimize.linprog(aim, A_ub=budget, b_ub=most_ma, A_eq=rows, b_eq=-fixed, bounds=bounds)
        if exact
        else scipy.optimize.linprog(aim, A_ub=np.vstack([budget, -rows]), b_ub=np.append(most_ma, fixed), bounds=bounds)
    )
    return float(found.x[-1]) if found.success and found.x[-1] > 0.0 else None


def _nearest(problem: MatchProblem, *, level: float, within: npt.NDArray[np.bool_]) -> FloatArray:
    """Knobs that keep the greatest departure of windows within reach least, then lift the others as far as can be."""
    windows, knobs = problem.light.shape
    share = problem.light / (level * problem.ratio)[:, None]
    asked = 1.0 - problem.fixed_cd_m2 / (level * problem.ratio)
    # Unknowns: knobs, then one departure for all windows within reach, then the shortfall of every window
    short = np.hstack([-share, np.zeros((windows, 1)), -np.eye(windows)])
    over, under = np.hstack([share, -np.ones((windows, 1)), np.zeros((windows, windows))]), short.copy()
    under[:, knobs + 1 :] = 0.0
    under[:, knobs] = -1.0
    load = np.append(problem.load_ma, np.zeros(1 + windows))[None]
    rows = np.vstack([over, under[within], short, load])
    sides = np.concatenate([asked, -asked[within], -asked, [problem.load_most_ma]])
    bounds = [*((0.0, most) for most in problem.most), (0.0, None), *((0.0, None) for _ in range(windows))]
    # The departure of those within reach counts before any shortfall of the others
    aim = np.concatenate([np.zeros(knobs), [1e3 * windows], np.ones(windows)])
    found: scipy.optimize.OptimizeResult = scipy.optimize.linprog(aim, A_ub=rows, b_ub=sides, bounds=bounds)
    if not found.success:
        raise RangeError("no drive values keep the limits: what is not matched already takes more than the supply has")
    return np.asarray(np.clip(found.x[:knobs], 0.0, problem.most))
