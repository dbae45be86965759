"""docs/choices.md and its pictures: what there is to choose from, drawn and listed from the starting catalogue."""

from collections.abc import Iterable, Sequence
from typing import get_args

import numpy as np
import numpy.typing as npt

from paneglow.catalog import Catalog, Colour, Film, Part, part_spectral_power, read_catalog
from paneglow.look.colour import daylight_weights
from paneglow.physics import tristimulus
from paneglow.report.swatch import XYZ_TO_LINEAR_SRGB
from paneglow.results import LedChoice, build_choices
from paneglow.units import Quantity

PX_PER_MM = 14
CELL_PX, ROW_PX = 150, 120
SHOWN_COLOUR = "amber"  # parts of this colour are drawn; their sizes are those of every colour
STYLE_WORDS = {
    "lens_down": "ordinary chip LED soldered upside down, lens on the laminate",
    "reverse": "part made to face the board, no hole",
    "through_hole": "lens or body sits in a drilled hole",
    "cutout": "part sits in a routed cut-out",
    "side_view": "part that shines sideways, along the back of the board",
    "carrier": "LED on a second board at a distance behind",
    "top_view": "LED faces away from the board; a back cover returns its light",
}
HEAD = """# What there is to choose from

Written from the starting catalogue by `make docs`; do not edit by hand. The same in the terminal, with your own parts
and prices: `paneglow parts`. Nothing here is an offer or a recommendation: the records are neutral stand-ins with wide
ranges. For a board you will sell, write down the parts you can buy: `paneglow parts new` ([parts.md](parts.md)).
"""


def choices_page() -> str:
    """Text of the page."""
    catalog = read_catalog()
    leds = build_choices(catalog, kind="leds").leds
    return "\n".join(
        [
            HEAD,
            "## LEDs by size\n",
            "![LEDs drawn to one scale, their luminous areas in colour](pictures/choices-sizes.svg)\n",
            "An order code is a size with a colour: `tv-0603-amber`.\n",
            *_table(("size", "mm", "`mounting` it is made for"), _size_rows(leds)),
            *_table(("`mounting`", "what it is"), [(f"`{style}`", words) for style, words in STYLE_WORDS.items()]),
            "## LEDs by colour\n",
            "![Colours of the LEDs, as near as a screen can show them](pictures/choices-colours.svg)\n",
            "Of the plain chip LED in its 0603 body; others differ ([sources.md](sources.md)).\n",
            *_table(("colour", "light [lm]", "at [mA]", "greatest [mA]", "forward voltage [V]"), _colour_rows(leds)),
            "## Laminates\n",
            "`laminate` in `[board]`. Nobody measured one for this catalogue: all are assumed, with wide ranges."
            " [A lot of your own](parts.md#a-laminate-of-your-own) narrows them.\n",
            *_table(("name", "what it is", "scatter [1/mm]", "absorption of blue, green, red [1/mm]"),
                    [(f"`{one.code}`", one.note, _range(one.reduced_scatter_per_mm),
                      ", ".join(f"{value:g}" for value in one.absorb_per_mm))
                     for one in build_choices(catalog, kind="laminates").laminates]),
            "## Masks, inks, diffusers\n",
            "![Masks, inks and diffusers: by daylight, and lit from behind](pictures/choices-films.svg)\n",
            "`mask` and `legend` in `[board]`; `diffuser` of an LED: `hot-glue`, or `film:` and a name. Shares of blue,"
            " green and red light [%]. Write your own as [`[[film]]`](parts.md#a-film-of-your-own).\n",
            *_table(("name", "kind", "passes", "returns", "source"), _film_rows(catalog)),
            "## Supplies\n",
            "`cell` in `[supply]`.\n",
            *_table(("name", "what it is", "fresh [V]", "capacity [mAh]", "greatest [mA]", "in pulses [mA]"),
                    [(f"`{one.code}`", one.words, f"{one.fresh_v:g}",
                      "" if one.capacity_mah is None else f"{one.capacity_mah:g}",
                      f"{one.continuous_max_ma:g}", f"{one.pulse_max_ma:g}")
                     for one in build_choices(catalog, kind="supplies").supplies]),
        ]
    )  # fmt: skip


def sizes_picture() -> str:
    """Every size of the starting catalogue from above, to one scale, its luminous area in colour."""
    parts = [part for part in read_catalog().parts.values() if part.colour == SHOWN_COLOUR]
    return _svg(parts, columns=4, draw=_draw_part, alt="LEDs drawn to one scale")


def colours_picture() -> str:
    """A chip of every colour word."""
    known = read_catalog().parts
    parts = [part for colour in get_args(Colour) if (part := known.get(f"tv-0603-{colour}")) is not None]
    return _svg(parts, columns=4, draw=_draw_colour, alt="Colours of the LEDs")


def films_picture() -> str:
    """Every mask, ink and diffuser by daylight over black, and lit from behind."""
    return _svg(list(read_catalog().films.values()), columns=4, draw=_draw_film, alt="Masks, inks and diffusers")


def _table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    return [
        f"| {' | '.join(headings)} |",
        "|---" * len(headings) + "|",
        *(f"| {' | '.join(row)} |" for row in rows),
        "",
    ]


def _range(quantity: Quantity) -> str:
    low, high = f"{quantity.lowest:.2g}", f"{quantity.highest:.2g}"
    return low if low == high else f"{low} to {high}"


def _size_rows(leds: Iterable[LedChoice]) -> list[tuple[str, str, str]]:
    return [
        (
            f"`{led.code.removesuffix(f'-{led.colour}')}`",
            " x ".join(f"{size:g}" for size in led.size_mm),
            ", ".join(f"`{style}`" for style in led.styles),
        )
        for led in leds
        if led.colour == SHOWN_COLOUR
    ]


def _colour_rows(leds: Iterable[LedChoice]) -> list[tuple[str, ...]]:
    return [
        (led.colour, _range(led.flux_lm), f"{led.test_current_ma:g}", f"{led.current_max_ma:g}",
         _range(led.forward_voltage_v))
        for led in leds
        if led.code.startswith("tv-0603-")
    ]  # fmt: skip


def _film_rows(catalog: Catalog) -> list[tuple[str, ...]]:
    rows = []
    for kind, word in (("masks", "mask"), ("inks", "legend ink"), ("films", "diffuser")):
        choices = build_choices(catalog, kind=kind)
        for film in (*choices.masks, *choices.inks, *choices.films):
            through, back = (
                ", ".join(f"{100 * share:.0f}" for share in shares) for shares in (film.transmittance, film.reflectance)
            )
            rows.append((f"`{film.code}`", word, through, back, film.source))
    return rows


def _svg(items: Sequence[Part | Film], *, columns: int, draw: object, alt: str) -> str:
    rows = -(-len(items) // columns)
    size = f"{columns * CELL_PX} {rows * ROW_PX}"
    shapes = []
    for number, item in enumerate(items):
        row, column = divmod(number, columns)
        shapes.append(f'<g transform="translate({column * CELL_PX} {row * ROW_PX})">')
        shapes += draw(item)  # type: ignore[operator]
        shapes.append("</g>")
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" role="img" font-family="sans-serif"'
            f' font-size="12" text-anchor="middle"><title>{alt}</title>',
            '<rect width="100%" height="100%" fill="#fff"/>',
            *shapes,
            "</svg>\n",
        ]
    )


def _label(words: str, *, y: int) -> str:
    return f'<text x="{CELL_PX / 2:g}" y="{y}" fill="#222">{words}</text>'


def _box(length_px: float, width_px: float, *, fill: str, round_px: float = 0.0) -> str:
    x, y = (CELL_PX - length_px) / 2, 45 - width_px / 2
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{length_px:.1f}" height="{width_px:.1f}" rx="{round_px:.1f}"'
        f' fill="{fill}" stroke="#555"/>'
    )


def _draw_part(part: Part) -> list[str]:
    body = part.body
    across_mm = body.height_mm if part.kind == "side_view" else body.width_mm  # its shining face, which stands upright
    sides = (body.length_mm * PX_PER_MM, across_mm * PX_PER_MM)
    glow = (part.emitter_length_mm.value * PX_PER_MM, part.emitter_width_mm.value * PX_PER_MM)
    is_round = part.kind == "through_hole"
    return [
        _box(*sides, fill="#f3efe6", round_px=min(sides) / 2 if is_round else 0),
        _box(*glow, fill=_hex(_light(part), full=True), round_px=min(glow) / 2 if is_round else 0),
        _label(part.code.removesuffix(f"-{part.colour}"), y=98),
        _label(f"{body.length_mm:g} x {across_mm:g} mm", y=113),
    ]


def _draw_colour(part: Part) -> list[str]:
    peak = max(part.spectrum.peaks, key=lambda line: line.relative_power) if part.spectrum.peaks else None
    words = "" if peak is None or part.colour == "white" else f"peak {peak.peak_nm:g} nm"
    return [_box(110, 60, fill=_hex(_light(part), full=True)), _label(part.colour, y=98), _label(words, y=113)]


def _draw_film(film: Film) -> list[str]:
    day = daylight_weights()
    shares = (
        np.interp(day.wavelength_nm, film.wavelength_nm, table) for table in (film.reflectance, film.transmittance)
    )
    back, through = (_hex(day.weights.T @ table, full=False) for table in shares)
    return [
        '<g transform="translate(-29 0)">', _box(56, 60, fill=back), "</g>",
        '<g transform="translate(29 0)">', _box(56, 60, fill=through), "</g>",
        _label(film.code, y=98),
        _label("by day | lit through", y=113),
    ]  # fmt: skip


def _light(part: Part) -> npt.NDArray[np.float64]:
    wavelength_nm = np.arange(380.0, 781.0, 1.0)
    return np.asarray(tristimulus(wavelength_nm, part_spectral_power(part, wavelength_nm=wavelength_nm)))


def _hex(xyz: npt.NDArray[np.float64], *, full: bool) -> str:
    """Colour of XYZ on a screen: at full brightness, or as bright as it is where Y = 1 is white (IEC 61966-2-1)."""
    linear = XYZ_TO_LINEAR_SRGB @ (xyz / xyz[1] if full else xyz)
    linear = linear - min(0.0, float(linear.min()))  # paled until a screen can show it
    linear = np.clip(linear / linear.max() if full else linear, 0.0, 1.0)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(255 * float(value)):02x}" for value in encoded)
