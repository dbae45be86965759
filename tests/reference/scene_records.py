"""Scenes that an independent renderer and the transport compute alike: plain numbers, known to neither of the two.

Lengths in mm, z from the back face (0) to the front face; the viewer looks from the front, tilted toward +x.
"""

from dataclasses import asdict, dataclass

INDEX = 1.5
HOLE = "plated hole"  # a cover name that stands for laminate cut away


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A rectangle of a face: its lower left and upper right corner, and what covers it."""

    cover: str
    low: tuple[float, float]
    high: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """What lies on a face. Opaque: `reflect` is returned diffusely inside. Else bare, tinted per pass, or rough.

    `body_reflect` is the reflectance of a diffuse body that touches the face from outside.
    """

    transmit: float = 1.0
    reflect: float = 0.0
    roughness: float = 0.0
    body_reflect: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """A Lambertian rectangle, `size` along u and v, shining along `axis` = u x v."""

    centre: tuple[float, float, float]
    size: tuple[float, float]
    u: tuple[float, float, float] = (1.0, 0.0, 0.0)
    v: tuple[float, float, float] = (0.0, 1.0, 0.0)
    axis: tuple[float, float, float] = (0.0, 0.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Foil:
    """Copper inside the slab: patches at a height, of one diffuse reflectance."""

    height: float
    reflect: float
    patches: tuple[Patch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """An upright light wall about the lamp: inner sides along x and y, from the back face down to the sheet."""

    length: float
    width: float
    reflect: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cap:
    """Glue or a lens that joins the lamp and the back face: a cap of a sphere on the face, centred below the lamp.

    `radius` is that of its foot; what it scatters goes every way alike.
    """

    radius: float
    height: float
    index: float
    scatter: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DiffuserFilm:
    """An endless film before the board: of what crosses, the share `haze` leaves diffusely, the rest straight on."""

    distance: float
    transmit: float
    reflect: float
    haze: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceScene:
    """One scene. Patches are painted in order over the cover named "rest"; the last one stays.

    `samples` are the renderer's paths per block and batch; `blocks` are counted along x and y, the first at `map_low`.
    """

    name: str
    claim: str
    lamp: Lamp
    covers: dict[str, Cover]
    front: tuple[Patch, ...]
    back: tuple[Patch, ...]
    front_rest: str
    back_rest: str
    map_low: tuple[float, float]
    blocks: tuple[int, int]
    block: float
    thickness: float = 1.6
    scatter: float = 7.5
    absorb: float = 0.04
    asymmetry: float = 0.8
    view_deg: float = 0.0
    foil: Foil | None = None
    sheet_distance: float = 0.0
    sheet_reflect: float = 0.0
    frame: Frame | None = None
    plating: float = 0.0
    cap: Cap | None = None
    film: DiffuserFilm | None = None
    samples: int = 4096

    def described(self) -> dict[str, object]:
        """Everything that decides the values, as plain data; scenes were rendered before there were caps and films."""
        late = {name for name in ("cap", "film") if getattr(self, name) is None}
        return {key: value for key, value in asdict(self).items() if key not in {"claim", "samples"} | late}
