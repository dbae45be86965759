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


BARE = Cover()
BLACK = Cover(transmit=0.0)
COPPER = Cover(transmit=0.0, reflect=0.3)
WHITE = Cover(transmit=0.0, reflect=0.7)


def _patch(cover: str, x_low: float, x_high: float, y_low: float, y_high: float) -> Patch:
    return Patch(cover=cover, low=(x_low, y_low), high=(x_high, y_high))


def _window(half_x: float, half_y: float) -> tuple[Patch, ...]:
    return (_patch("bare", -half_x, half_x, -half_y, half_y),)


_L_SHAPE = (_patch("bare", -3.0, 3.0, -3.0, -1.0), _patch("bare", -3.0, -1.0, -3.0, 3.0))

SCENES = (
    ReferenceScene(
        name="offset-lamp",
        claim="a square window between black covers, the lamp off its middle",
        lamp=Lamp(centre=(1.5, -1.0, -0.5), size=(2.0, 2.0)),
        covers={"bare": BARE, "black": BLACK},
        front=_window(3.0, 3.0),
        back=_window(3.0, 3.0),
        front_rest="black",
        back_rest="black",
        map_low=(-3.0, -3.0),
        blocks=(6, 6),
        block=1.0,
    ),
    ReferenceScene(
        name="copper-bars",
        claim="copper bars of 1 and 2 mm across the front only, the back wholly bare",
        lamp=Lamp(centre=(-0.5, 0.5, -0.8), size=(3.0, 2.0)),
        covers={"bare": BARE, "copper": COPPER},
        front=(_patch("bare", -5.0, 5.0, -3.0, 3.0), _patch("copper", -3.0, -2.0, -3.0, 3.0),
               _patch("copper", 0.0, 2.0, -3.0, 3.0)),
        back=(),
        front_rest="copper",
        back_rest="bare",
        map_low=(-5.0, -3.0),
        blocks=(10, 6),
        block=1.0,
        samples=3072,
    ),
    ReferenceScene(
        name="neighbour-windows",
        claim="light that creeps under a white web of 1 mm into the next window",
        lamp=Lamp(centre=(-2.5, 0.0, -0.4), size=(2.0, 2.0)),
        covers={"bare": BARE, "white": WHITE},
        front=(_patch("bare", -4.0, -1.0, -2.0, 2.0), _patch("bare", 0.0, 3.0, -2.0, 2.0)),
        back=(_patch("bare", -4.0, -1.0, -2.0, 2.0), _patch("bare", 0.0, 3.0, -2.0, 2.0)),
        front_rest="white",
        back_rest="white",
        map_low=(-4.0, -2.0),
        blocks=(7, 4),
        block=1.0,
        samples=8192,
    ),
    ReferenceScene(
        name="side-facing-lamp",
        claim="a side-view part that shines along the back face from outside the window",
        lamp=Lamp(centre=(-4.0, 0.3, -0.6), size=(2.4, 0.8), u=(0.0, 1.0, 0.0), v=(0.0, 0.0, 1.0),
                  axis=(1.0, 0.0, 0.0)),
        covers={"bare": BARE, "copper": COPPER},
        front=_window(3.0, 2.0),
        back=_window(4.0, 3.0),
        front_rest="copper",
        back_rest="copper",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        scatter=5.0,
        samples=8192,
    ),
    ReferenceScene(
        name="thin-slab",
        claim="a slab of 0.4 mm that is seen through, the lamp half under copper",
        lamp=Lamp(centre=(1.0, 0.5, -1.0), size=(2.0, 2.0)),
        covers={"bare": BARE, "copper": COPPER},
        front=_window(3.0, 3.0),
        back=(_patch("bare", -3.0, 1.0, -3.0, 3.0),),
        front_rest="copper",
        back_rest="copper",
        map_low=(-3.0, -3.0),
        blocks=(6, 6),
        block=1.0,
        thickness=0.4,
        scatter=3.0,
        samples=6144,
    ),
    ReferenceScene(
        name="yellowed-slab",
        claim="aged laminate that swallows blue: absorption 0.3 per mm",
        lamp=Lamp(centre=(0.5, 0.5, -0.4), size=(2.0, 2.0)),
        covers={"bare": BARE, "black": BLACK},
        front=_window(3.0, 3.0),
        back=_window(3.0, 3.0),
        front_rest="black",
        back_rest="black",
        map_low=(-3.0, -3.0),
        blocks=(6, 6),
        block=1.0,
        scatter=5.0,
        absorb=0.3,
        samples=8192,
    ),
    ReferenceScene(
        name="slanted-view",
        claim="an L of bare laminate seen at 50 degrees",
        lamp=Lamp(centre=(-1.5, -1.5, -0.6), size=(2.0, 2.0)),
        covers={"bare": BARE, "copper": COPPER},
        front=_L_SHAPE,
        back=_L_SHAPE,
        front_rest="copper",
        back_rest="copper",
        map_low=(-3.0, -3.0),
        blocks=(6, 6),
        block=1.0,
        view_deg=50.0,
    ),
    ReferenceScene(
        name="slanted-view-thin",
        claim="a hardly scattering slab at 35 degrees, where bounces between the faces reach the viewer",
        lamp=Lamp(centre=(0.5, -0.5, -0.7), size=(3.0, 2.0)),
        covers={"bare": BARE, "copper": COPPER},
        front=_window(3.0, 3.0),
        back=_window(3.0, 3.0),
        front_rest="copper",
        back_rest="copper",
        map_low=(-3.0, -3.0),
        blocks=(6, 6),
        block=1.0,
        thickness=0.8,
        scatter=1.5,
        asymmetry=0.6,
        view_deg=35.0,
        samples=6144,
    ),
    ReferenceScene(
        name="tinted-film",
        claim="films that tint, on one half of the front and across the back, seen at 20 degrees",
        lamp=Lamp(centre=(0.0, 0.0, -0.5), size=(2.0, 2.0)),
        covers={"bare": BARE, "copper": COPPER, "amber": Cover(transmit=0.5), "pale": Cover(transmit=0.8)},
        front=(_patch("bare", -3.0, 0.0, -2.0, 2.0), _patch("amber", 0.0, 3.0, -2.0, 2.0)),
        back=(_patch("pale", -3.0, 3.0, -2.0, 2.0),),
        front_rest="copper",
        back_rest="copper",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        thickness=0.8,
        scatter=5.0,
        view_deg=20.0,
        samples=6144,
    ),
    ReferenceScene(
        name="matt-faces",
        claim="matt faces (GGX, width 0.15) in the window, front and back",
        lamp=Lamp(centre=(0.5, 0.0, -0.5), size=(2.0, 2.0)),
        covers={"matt": Cover(roughness=0.15), "copper": COPPER},
        front=(_patch("matt", -3.0, 3.0, -2.0, 2.0),),
        back=(_patch("matt", -3.0, 3.0, -2.0, 2.0),),
        front_rest="copper",
        back_rest="copper",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        thickness=0.8,
        scatter=5.0,
        samples=6144,
    ),
    ReferenceScene(
        name="silky-faces",
        claim="hardly matt faces (GGX, width 0.05), front and back, seen at 25 degrees",
        lamp=Lamp(centre=(-0.5, 0.5, -0.5), size=(2.0, 2.0)),
        covers={"matt": Cover(roughness=0.05), "copper": COPPER},
        front=(_patch("matt", -3.0, 3.0, -2.0, 2.0),),
        back=(_patch("matt", -3.0, 3.0, -2.0, 2.0),),
        front_rest="copper",
        back_rest="copper",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        thickness=0.8,
        scatter=5.0,
        view_deg=25.0,
        samples=6144,
    ),
    ReferenceScene(
        name="matt-front-slanted",
        claim="a matt front (GGX, width 0.15) over a smooth back, seen at 40 degrees",
        lamp=Lamp(centre=(0.5, 0.0, -0.5), size=(2.0, 2.0)),
        covers={"matt": Cover(roughness=0.15), "bare": BARE, "copper": COPPER},
        front=(_patch("matt", -3.0, 3.0, -2.0, 2.0),),
        back=_window(3.0, 2.0),
        front_rest="copper",
        back_rest="copper",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        view_deg=40.0,
        samples=6144,
    ),
    ReferenceScene(
        name="inner-copper",
        claim="treated foil at 0.5 mm in the slab, with a slot of 2 mm, under a bare front",
        lamp=Lamp(centre=(-0.5, 0.0, -0.5), size=(3.0, 3.0)),
        covers={"bare": BARE},
        front=(),
        back=(),
        front_rest="bare",
        back_rest="bare",
        map_low=(-4.0, -2.0),
        blocks=(8, 4),
        block=1.0,
        scatter=5.0,
        foil=Foil(height=0.5, reflect=0.3, patches=(_patch("foil", -6.0, -1.0, -6.0, 6.0),
                                                    _patch("foil", 1.0, 6.0, -6.0, 6.0))),
        samples=6144,
    ),
    ReferenceScene(
        name="white-back-cover",
        claim="a part that faces away: all of its light comes back from a white cover, many times over",
        lamp=Lamp(centre=(1.0, 0.0, -0.5), size=(2.0, 2.0), u=(-1.0, 0.0, 0.0), axis=(0.0, 0.0, -1.0)),
        covers={"bare": BARE, "black": BLACK},
        front=_window(3.0, 2.0),
        back=_window(4.0, 3.0),
        front_rest="black",
        back_rest="black",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        scatter=5.0,
        sheet_distance=2.0,
        sheet_reflect=0.85,
        samples=8192,
    ),
    ReferenceScene(
        name="led-bodies",
        claim="a white body that touches the back face beside the lamp",
        lamp=Lamp(centre=(-1.0, 0.0, -0.002), size=(2.0, 2.0)),
        covers={"bare": BARE, "copper": COPPER, "body": Cover(body_reflect=0.8)},
        front=_window(3.0, 2.0),
        back=(_patch("bare", -3.0, 3.0, -2.0, 2.0), _patch("body", 0.5, 2.5, -1.5, 1.5)),
        front_rest="copper",
        back_rest="copper",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        scatter=4.0,
        samples=6144,
    ),
    ReferenceScene(
        name="light-wall",
        claim="a white frame and a white carrier about the lamp, far behind the board",
        lamp=Lamp(centre=(0.5, -0.3, -2.0), size=(1.6, 1.6)),
        covers={"bare": BARE, "black": BLACK},
        front=_window(3.0, 2.0),
        back=_window(3.0, 2.0),
        front_rest="black",
        back_rest="black",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        thickness=0.8,
        scatter=5.0,
        sheet_distance=2.2,
        sheet_reflect=0.8,
        frame=Frame(length=5.0, width=4.0, reflect=0.7),
        samples=6144,
    ),
    ReferenceScene(
        name="plated-slot",
        claim="a plated slot beside the lamp returns light into the laminate",
        lamp=Lamp(centre=(-1.5, 0.0, -0.002), size=(2.0, 2.0)),
        covers={"bare": BARE, "copper": COPPER},
        front=(_patch("bare", -4.0, 4.0, -2.0, 2.0), _patch(HOLE, 1.0, 2.0, -3.0, 3.0)),
        back=(_patch("copper", -4.0, 4.0, -2.0, 2.0), _patch("bare", -2.5, -0.5, -1.0, 1.0),
              _patch(HOLE, 1.0, 2.0, -3.0, 3.0)),
        front_rest="copper",
        back_rest="copper",
        map_low=(-4.0, -2.0),
        blocks=(8, 4),
        block=1.0,
        scatter=2.5,
        plating=0.6,
        samples=6144,
    ),
    ReferenceScene(
        name="glue-dome",
        claim="a side-view part in a dome of hazy glue, which leads its light up into the window",
        lamp=Lamp(centre=(-0.5, 0.0, -0.6), size=(1.6, 0.8), u=(0.0, 1.0, 0.0), v=(0.0, 0.0, 1.0),
                  axis=(1.0, 0.0, 0.0)),
        covers={"bare": BARE, "black": BLACK},
        front=_window(3.0, 2.0),
        back=(_patch("black", -3.0, 2.0, -2.5, 2.5), _patch("bare", -2.0, 1.0, -1.5, 1.5)),
        front_rest="black",
        back_rest="black",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        scatter=4.0,
        cap=Cap(radius=2.5, height=2.5, index=1.49, scatter=0.15),
        samples=8192,
    ),
    ReferenceScene(
        name="touching-lens",
        claim="a shallow lens that touches the laminate and lets no air between",
        lamp=Lamp(centre=(0.5, -0.3, -0.4), size=(1.2, 1.2)),
        covers={"bare": BARE, "black": BLACK},
        front=_window(3.0, 2.0),
        back=(_patch("black", -1.5, 2.5, -2.3, 1.7), _patch("bare", -0.8, 1.8, -1.6, 1.0)),
        front_rest="black",
        back_rest="black",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        scatter=4.0,
        cap=Cap(radius=2.0, height=0.8, index=1.41),
        samples=6144,
    ),
    ReferenceScene(
        name="front-film",
        claim="a hazy film 1 mm before the board, which also returns light to it",
        lamp=Lamp(centre=(0.5, -0.5, -0.5), size=(2.0, 2.0)),
        covers={"bare": BARE, "black": BLACK},
        front=_window(3.0, 2.0),
        back=_window(3.0, 2.0),
        front_rest="black",
        back_rest="black",
        map_low=(-3.0, -2.0),
        blocks=(6, 4),
        block=1.0,
        thickness=0.8,
        scatter=5.0,
        film=DiffuserFilm(distance=1.0, transmit=0.6, reflect=0.3, haze=0.7),
        samples=6144,
    ),
)  # fmt: skip


# The renderer follows light over one facet of a matt face and loses what a second one would catch. Here that is more
# than a few tenths of a percent, so a walk of our own stands between the two (`facet_walk.py`)
BY_FACET_WALK = ("matt-faces", "silky-faces", "matt-front-slanted")


def scene_named(name: str) -> ReferenceScene:
    return next(scene for scene in SCENES if scene.name == name)
