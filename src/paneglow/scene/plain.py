"""A scene written as plain arrays: what every field must be, and the lamp that most of them begin with."""

import math

import numpy as np
import numpy.typing as npt

from paneglow.errors import RangeError
from paneglow.physics import cosine_power_table
from paneglow.scene.records import BODY_PLATED_HOLE, Dome, Emitter, FaceClasses, LightWall, Scene, Sheet

FloatArray = npt.NDArray[np.float64]

MOST_MM = 1000.0  # farther and larger than anything on a board: a number above it is in another unit
MOST_INDEX = 4.0  # of clear solids
MOST_ASYMMETRY = 0.999  # at 1 nothing is ever turned
LARGEST_VIEW_RAD = math.radians(89.0)  # along a face nothing of it is seen
UNIT_SLACK = 1e-6  # of lengths of unit vectors and their right angles, and of sums of shares
FLUX_SLACK = 0.02  # of a lobe's integral and of the luminous flux of its nodes, which tables round


def lambertian_rectangle(
    ref: str,
    *,
    centre_mm: tuple[float, float, float],
    size_mm: tuple[float, float],
    axis: tuple[float, float, float] = (0.0, 0.0, 1.0),
    flux_lm: float = 1.0,
    window: str | None = None,
    nodes: npt.ArrayLike = (0,),
    xyz_per_lm: npt.ArrayLike = ((1.0, 1.0, 1.0),),
) -> Emitter:
    """An emitter that is equally bright from every side in front of it.

    Parameters
    ----------
    ref : str
        Its name.
    centre_mm : tuple of float
        Centre (x, y, z) [mm]; z is 0 at the back face and counts toward the front, so a lamp behind the board has z
        below 0.
    size_mm : tuple of float
        Sides [mm], at least 0: the first along the board, square to the axis; 0 is a point.
    axis : tuple of float
        Unit vector that it faces along [1]; (0, 0, 1) faces the back face of the board.
    flux_lm : float
        Its flux [lm], at least 0.
    window : str, optional
        Window it is meant for.
    nodes : array_like of int, shape (k,)
        Wavelengths that it emits, as indices into the scene's axis.
    xyz_per_lm : array_like, shape (k, 3)
        Tristimulus values of one lumen, by node; the Y column sums to 1. With one node and (1, 1, 1) every map is
        luminance.

    Returns
    -------
    Emitter

    Examples
    --------
    >>> lamp = lambertian_rectangle("D1", centre_mm=(0.0, 0.0, -0.3), size_mm=(1.0, 0.5))
    >>> lamp.u, lamp.v
    ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    """
    table = cosine_power_table(math.pi / 3.0)  # half as intense at 60 degrees is Lambert's cosine exactly
    ax, ay, az = axis
    level = math.hypot(ax, ay)
    # An upright axis leaves the first side free: along x
    u = (1.0, 0.0, 0.0) if level < UNIT_SLACK else (-ay / level, ax / level, 0.0)
    v = (ay * u[2] - az * u[1], az * u[0] - ax * u[2], ax * u[1] - ay * u[0])
    return Emitter(
        ref=ref,
        window=window,
        centre_mm=centre_mm,
        axis=axis,
        u=u,
        v=v,
        size_mm=size_mm,
        cos_table=table.cos_table,
        cdf_table=table.cdf_table,
        intensity_table=table.intensity_table,
        nodes=np.asarray(nodes, dtype=np.int64),
        xyz_per_lm=np.asarray(xyz_per_lm, dtype=np.float64),
        flux_lm=flux_lm,
        flux_lm_low=flux_lm,
        flux_lm_high=flux_lm,
    )


def check_scene(scene: Scene) -> None:
    """Raise where a field of a scene cannot be: wrong shape or type, out of range, or at odds with another field.

    Parameters
    ----------
    scene : Scene

    Raises
    ------
    RangeError
        With the field, its value, and what is allowed.
    """
    n_waves = _check_numbers("wavelength_nm", scene.wavelength_nm, low=100.0, high=5000.0, shape=(None,)).size
    _check_number("thickness_mm", scene.thickness_mm, low=0.0, high=MOST_MM, above=True)
    _check_number("refractive_index", scene.refractive_index, low=1.0, high=MOST_INDEX)
    _check_number("asymmetry", scene.asymmetry, low=-MOST_ASYMMETRY, high=MOST_ASYMMETRY)
    _check_number("view_angle_rad", scene.view_angle_rad, low=0.0, high=LARGEST_VIEW_RAD, hint="; radians, not degrees")
    _check_classes(scene.classes, n_waves=n_waves)
    _check_maps(scene)
    _check_layers(scene, n_waves=n_waves)
    for name, sheet in (("back_sheet", scene.back_sheet), ("front_sheet", scene.front_sheet)):
        if sheet is not None:
            _check_sheet(name, sheet, n_waves=n_waves)
    if scene.plating is not None:
        _check_numbers("plating", scene.plating, low=0.0, high=1.0, shape=(n_waves,))
    refs = [emitter.ref for emitter in scene.emitters]
    if len(set(refs)) < len(refs):
        raise RangeError(f"emitters are named {', '.join(refs)}; give each another ref")
    for emitter in scene.emitters:
        _check_emitter(emitter, scene=scene, n_waves=n_waves)


def _check_layers(scene: Scene, *, n_waves: int) -> None:
    if not scene.slabs:
        raise RangeError("slabs is empty; give at least the nominal version of the laminate")
    for i, slab in enumerate(scene.slabs):
        _check_number(f"slabs[{i}].scatter_per_mm", slab.scatter_per_mm, low=0.0)
        _check_numbers(f"slabs[{i}].absorb_per_mm", slab.absorb_per_mm, low=0.0, shape=(n_waves,))
    for i, layer in enumerate(scene.inner):
        _check_number(f"inner[{i}].height_mm", layer.height_mm, low=0.0, high=scene.thickness_mm, above=True)
        _check_numbers(f"inner[{i}].reflect", layer.reflect, low=0.0, high=1.0, shape=(n_waves,))


def _check_maps(scene: Scene) -> None:
    n_classes, shape = len(scene.classes.names), scene.grid.shape
    for name, face in (("front", scene.front), ("back", scene.back)):
        _check_map(name, face, shape=shape, highest=n_classes - 1, what=f"classes 0 to {n_classes - 1}")
    _check_map("body", scene.body, shape=shape, highest=BODY_PLATED_HOLE, what="the values BODY_*, 0 to 3")
    if scene.windows is not None:
        _check_map("windows", scene.windows, shape=shape, highest=255, what="window numbers 0 to 255")
    for i, layer in enumerate(scene.inner):
        copper = layer.copper
        if not isinstance(copper, np.ndarray) or copper.dtype != np.bool_ or copper.shape != shape:
            raise RangeError(f"inner[{i}].copper is {_shown(copper)}; needed is an array of bool of shape {shape}")


def _check_classes(classes: FaceClasses, *, n_waves: int) -> None:
    n = len(classes.names)
    if n == 0:
        raise RangeError("classes.names is empty; give at least one class of face")
    by_wave = {
        name: _check_numbers(f"classes.{name}", getattr(classes, name), low=0.0, high=1.0, shape=(n, n_waves))
        for name in ("transmit", "reflect", "backing_reflect")
    }
    _check_sum("classes.transmit + classes.reflect", by_wave["transmit"] + by_wave["reflect"])
    haze = _check_numbers("classes.haze", classes.haze, low=0.0, high=1.0, shape=(n,))
    if classes.roughness is not None:
        rough = _check_numbers("classes.roughness", classes.roughness, low=0.0, high=1.0, shape=(n,)) > 0.0
        bare = (by_wave["transmit"].min(axis=1) >= 1.0) & (by_wave["reflect"].max(axis=1) <= 0.0) & (haze <= 0.0)
        if np.any(rough & ~bare):
            which = classes.names[int(np.flatnonzero(rough & ~bare)[0])]
            raise RangeError(f"classes.roughness of {which!r} is above 0; only bare classes may be rough, others 0")


def _check_sheet(name: str, sheet: Sheet, *, n_waves: int) -> None:
    _check_number(f"{name}.distance_mm", sheet.distance_mm, low=0.0, high=MOST_MM, above=True)
    reflect = _check_numbers(f"{name}.reflect", sheet.reflect, low=0.0, high=1.0, shape=(n_waves,))
    transmit = _check_numbers(f"{name}.transmit", sheet.transmit, low=0.0, high=1.0, shape=(n_waves,))
    _check_sum(f"{name}.transmit + {name}.reflect", transmit + reflect)
    _check_number(f"{name}.haze", sheet.haze, low=0.0, high=1.0)


def _check_emitter(emitter: Emitter, *, scene: Scene, n_waves: int) -> None:
    name = f"emitter {emitter.ref}"
    vectors = {
        field: _check_numbers(f"{name}: {field}", getattr(emitter, field), low=-MOST_MM, high=MOST_MM, shape=(3,))
        for field in ("centre_mm", "axis", "u", "v")
    }
    for field in ("axis", "u", "v"):
        if abs(float(np.linalg.norm(vectors[field])) - 1.0) > UNIT_SLACK:
            raise RangeError(f"{name}: {field} is {_shown(vectors[field])}; needed is a vector of length 1")
    for one, other in (("axis", "u"), ("axis", "v"), ("u", "v")):
        if abs(float(vectors[one] @ vectors[other])) > UNIT_SLACK:
            raise RangeError(f"{name}: {one} and {other} are not at right angles; needed are three such unit vectors")
    _check_place(name, emitter, scene=scene)
    _check_numbers(f"{name}: size_mm", emitter.size_mm, low=0.0, high=MOST_MM, shape=(2,))
    _check_lobe(name, emitter)
    _check_nodes(name, emitter, n_waves=n_waves)
    for field in ("flux_lm", "flux_lm_low", "flux_lm_high"):
        _check_number(f"{name}: {field}", getattr(emitter, field), low=0.0)
    if not emitter.flux_lm_low <= emitter.flux_lm <= emitter.flux_lm_high:
        raise RangeError(f"{name}: flux_lm is {emitter.flux_lm!r}; allowed is flux_lm_low to flux_lm_high")
    if emitter.dome is not None:
        _check_dome(f"{name}: dome", emitter.dome, emitter=emitter)
    if emitter.light_wall is not None:
        _check_light_wall(f"{name}: light_wall", emitter.light_wall, emitter=emitter, n_waves=n_waves)


def _check_place(name: str, emitter: Emitter, *, scene: Scene) -> None:
    z_mm, thickness_mm = float(emitter.centre_mm[2]), scene.thickness_mm
    if emitter.opening_mm is None:
        if 0.0 <= z_mm <= thickness_mm:
            raise RangeError(
                f"{name}: centre_mm has z {z_mm:g}, inside the slab; allowed is below 0 (behind the back face) or above"
                f" {thickness_mm:g} (before the front), or a hole round it (opening_mm)"
            )
        return
    opening = _check_numbers(f"{name}: opening_mm", emitter.opening_mm, low=0.0, high=MOST_MM, shape=(2,), above=True)
    if np.any(np.asarray(emitter.size_mm) > opening + UNIT_SLACK):
        raise RangeError(f"{name}: size_mm is {_shown(emitter.size_mm)}; it must fit opening_mm, {_shown(opening)}")
    if z_mm > thickness_mm:
        raise RangeError(f"{name}: centre_mm has z {z_mm:g}; a part in a hole lies below the front, {thickness_mm:g}")


def _check_lobe(name: str, emitter: Emitter) -> None:
    cosines = _check_numbers(f"{name}: cos_table", emitter.cos_table, low=-1.0, high=1.0, shape=(None,))
    shares = _check_numbers(f"{name}: cdf_table", emitter.cdf_table, low=0.0, high=1.0, shape=cosines.shape)
    lobe = _check_numbers(f"{name}: intensity_table", emitter.intensity_table, low=0.0, shape=cosines.shape)
    if cosines.size < 2 or cosines[0] != 1.0 or np.any(np.diff(cosines) > 0.0):
        raise RangeError(f"{name}: cos_table is {_shown(cosines)}; needed are at least 2 cosines falling from 1")
    if shares[0] != 0.0 or abs(shares[-1] - 1.0) > UNIT_SLACK or np.any(np.diff(shares) < 0.0):
        raise RangeError(f"{name}: cdf_table is {_shown(shares)}; needed are shares of the flux rising from 0 to 1")
    whole = 2.0 * math.pi * float(np.trapezoid(lobe[::-1], cosines[::-1]))
    if lobe.max() > 0.0 and abs(whole - 1.0) > FLUX_SLACK:  # a beam without width has no intensity
        raise RangeError(f"{name}: intensity_table sums to {whole:.4g} over the sphere; needed is 1, in 1/sr")


def _check_nodes(name: str, emitter: Emitter, *, n_waves: int) -> None:
    nodes = emitter.nodes
    if not isinstance(nodes, np.ndarray) or nodes.ndim != 1 or nodes.size == 0 or nodes.dtype.kind not in "iu":
        raise RangeError(f"{name}: nodes is {_shown(nodes)}; needed is an array of whole numbers, at least one")
    if nodes.min() < 0 or nodes.max() >= n_waves:
        raise RangeError(f"{name}: nodes is {_shown(nodes)}; allowed is 0 to {n_waves - 1}, indices into wavelength_nm")
    xyz = _check_numbers(f"{name}: xyz_per_lm", emitter.xyz_per_lm, low=0.0, shape=(nodes.size, 3))
    start = np.ones(nodes.size)
    if emitter.start is not None:
        start = _check_numbers(f"{name}: start", emitter.start, low=0.0, high=1.0, shape=(nodes.size,))
    if emitter.shifted is not None:
        _check_numbers(f"{name}: shifted", emitter.shifted, low=0.0, shape=(nodes.size, nodes.size))
    if abs(float(start @ xyz[:, 1]) - 1.0) > FLUX_SLACK:
        raise RangeError(f"{name}: the Y column of xyz_per_lm sums to {start @ xyz[:, 1]:.4g}; needed is 1, one lumen")


def _check_dome(name: str, dome: Dome, *, emitter: Emitter) -> None:
    _check_number(f"{name}.radius_mm", dome.radius_mm, low=0.0, high=MOST_MM, above=True)
    _check_number(f"{name}.height_mm", dome.height_mm, low=0.0, high=dome.radius_mm, above=True)
    _check_number(f"{name}.refractive_index", dome.refractive_index, low=1.0, high=MOST_INDEX)
    _check_number(f"{name}.scatter_per_mm", dome.scatter_per_mm, low=0.0)
    if not -dome.height_mm < float(emitter.centre_mm[2]) < 0.0:
        raise RangeError(f"{name}.height_mm is {dome.height_mm:g}; the dome must reach beyond its emitter's centre")


def _check_light_wall(name: str, wall: LightWall, *, emitter: Emitter, n_waves: int) -> None:
    for field, least in (("length_mm", emitter.size_mm[0]), ("width_mm", emitter.size_mm[1])):
        _check_number(f"{name}.{field}", getattr(wall, field), low=float(least), high=MOST_MM, above=True)
    _check_numbers(f"{name}.reflect", wall.reflect, low=0.0, high=1.0, shape=(n_waves,))


def _check_map(name: str, values: object, *, shape: tuple[int, int], highest: int, what: str) -> None:
    if not isinstance(values, np.ndarray) or values.dtype != np.uint8 or values.shape != shape:
        raise RangeError(f"{name} is {_shown(values)}; needed is an array of uint8 of the grid's shape {shape}, [y, x]")
    if values.size and int(values.max()) > highest:
        raise RangeError(f"{name} holds {int(values.max())}; allowed are {what}")


def _check_number(
    name: str, value: float, *, low: float, high: float = math.inf, above: bool = False, hint: str = ""
) -> None:
    is_number = isinstance(value, int | float | np.integer | np.floating) and not isinstance(value, bool)
    if not is_number or not _inside(value, low=low, high=high, above=above).all():
        raise RangeError(f"{name} is {value!r}; allowed is a number {_range_words(low, high, above=above)}{hint}")


def _check_numbers(
    name: str, values: object, *, low: float, high: float = math.inf, shape: tuple[int | None, ...], above: bool = False
) -> FloatArray:
    """Finite numbers of a shape (None: any length, at least 1) within a range, as an array.

    Raises
    ------
    RangeError
        With the field, its value and what is allowed.
    """
    array = np.asarray(values) if isinstance(values, np.ndarray | tuple) else None
    needed = f"an array of numbers of shape ({', '.join('n' if n is None else str(n) for n in shape)})"
    if array is None or array.dtype.kind not in "iuf" or array.ndim != len(shape) or array.size == 0:
        raise RangeError(f"{name} is {_shown(values)}; needed is {needed}")
    if any(wanted not in (None, found) for wanted, found in zip(shape, array.shape, strict=True)):
        raise RangeError(f"{name} is {_shown(values)}; needed is {needed}")
    wrong = ~_inside(array, low=low, high=high, above=above)
    if wrong.any():
        allowed = _range_words(low, high, above=above)
        raise RangeError(f"{name} holds {array[wrong][0]:g}; allowed are numbers {allowed}")
    return np.asarray(array, dtype=np.float64)


def _inside(numbers: npt.ArrayLike, *, low: float, high: float, above: bool) -> npt.NDArray[np.bool_]:
    values = np.asarray(numbers, dtype=np.float64)
    return np.asarray(np.isfinite(values) & (values > low if above else values >= low) & (values <= high))


def _check_sum(name: str, shares: FloatArray) -> None:
    if shares.max() > 1.0 + UNIT_SLACK:
        raise RangeError(f"{name} reaches {shares.max():g}; allowed is at most 1: nothing returns more than it gets")


def _range_words(low: float, high: float, *, above: bool) -> str:
    if math.isinf(high):
        return f"above {low:g}" if above else f"at least {low:g}"
    return f"above {low:g}, at most {high:g}" if above else f"from {low:g} to {high:g}"


def _shown(value: object) -> str:
    """What was given, short enough for one line."""
    if isinstance(value, np.ndarray) and value.size > 4:
        return f"an array of {value.dtype} of shape {value.shape}"
    return repr(value.tolist() if isinstance(value, np.ndarray) else value)[:80]
