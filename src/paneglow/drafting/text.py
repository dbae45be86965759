"""A draft as the text of a design.toml that explains itself."""

import json
from collections.abc import Collection, Iterable, Iterator
from typing import get_args

from paneglow.catalog import Catalog, Colour, Film
from paneglow.design import Mounting, SupplyKind
from paneglow.drafting.draft import ASSUMED_MA, Draft, Group

ASSUMED = "assumed"
WIDTH = 110
ASSUMED_DUTY_FRAC = 0.2  # chosen: shows the pattern; full duty dazzles


def to_design_toml(draft: Draft, *, catalog: Catalog, made_from: str) -> str:
    """The design with a comment for every value that was read off something, or assumed.

    Parameters
    ----------
    draft : Draft
    catalog : Catalog
        What may be written instead.
    made_from : str
        Name of the fabrication set.

    Returns
    -------
    str
        TOML; read back, it is `draft.design`.
    """
    lines = [
        f'# Drafted by paneglow start from {made_from}. What is marked "{ASSUMED}" no file says: set it right.',
        "# Lengths are in mm, currents in mA; x right and y up, seen from the front. Keys: docs/design-reference.md",
        "# Then run paneglow check (defects, in seconds) and paneglow light (the picture).",
        f"# Colours, the end of a part's code: {', '.join(get_args(Colour))}.",
        f"# Mounting styles: {', '.join(get_args(Mounting))}.",
        f"name = {_text(draft.design.name)}",
        "",
        *_board(draft, catalog=catalog),
    ]
    for group, drafted in zip(draft.groups, draft.design.led, strict=True):
        values = drafted.model_dump(exclude_none=True, exclude_defaults=True)
        lines += ["", *_led(group, values=values, assumed=draft.assumed, catalog=catalog)]
    for window in draft.design.window:
        lines += ["", "[[window]]", f"name = {_text(window.name)}", f"at_mm = {list(window.at_mm)}  # any point inside"]
    lines += ["", *_supply(draft), *_left_out(draft)]
    return "\n".join(lines) + "\n"


def _text(words: str) -> str:
    # A JSON string is a TOML one, but for the delete sign, which TOML wants written out
    return json.dumps(words, ensure_ascii=False).replace("\x7f", "\\u007f")


def _board(draft: Draft, *, catalog: Catalog) -> Iterator[str]:
    board = draft.design.board

    def mark(key: str) -> str:
        return f"{ASSUMED}; " if key in draft.assumed else ""

    yield "[board]"
    yield f"fabrication = {_text(board.fabrication)}"
    if board.placement is not None:
        yield f"placement = {_text(board.placement)}"
    if board.placement_unit is not None:
        yield f"placement_unit = {_text(board.placement_unit)}"
    if board.layers:
        yield "layers = { " + ", ".join(f"{role} = {_text(name)}" for role, name in board.layers.items()) + " }"
    if board.ignored_files:
        yield f"ignored_files = {json.dumps(list(board.ignored_files), ensure_ascii=False)}"
    yield f"thickness_mm = {board.thickness_mm:g}  # {mark('thickness_mm')}0.8, 1.0, 1.2 and 1.6 are usual"
    laminates = ", ".join(code for code in catalog.laminates if code != board.laminate)
    yield f"laminate = {_text(board.laminate)}  # {ASSUMED}; nobody measured it. Also {laminates}, or a lot of your own"
    yield f"mask = {_text(board.mask)}  # {mark('mask')}{_others(catalog.films.values(), kind='mask', but=board.mask)}"
    legends = _others(catalog.films.values(), kind="legend", but=board.legend)
    yield f"legend = {_text(board.legend)}  # {ASSUMED}; {legends}"


def _others(films: Iterable[Film], *, kind: str, but: str) -> str:
    return "also " + ", ".join(film.code for film in films if film.kind == kind and film.code != but)


def _led(group: Group, *, values: dict[str, object], assumed: Collection[str], catalog: Catalog) -> Iterator[str]:
    first = group.first
    count = f"{len(group.leds)} LEDs" if len(group.leds) > 1 else "1 LED"
    yield from _wrapped(f"{count}: {first.why_led}")
    yield from _wrapped(f"style: {first.why_mounted}")
    if first.pads > 2:  # noqa: PLR2004 - a chip LED has two
        yield from _wrapped(
            f"{first.pads} pads: several colours or a chip inside. Drawn as one LED of one colour, which shows the "
            "pattern; its wiring is not checked"
        )
        fitting = [
            part
            for part in catalog.parts.values()
            if part.dice and part.terminals is not None and len(part.terminals.pads) == first.pads
            if (part.kind == "side_view") == (first.mounting == "side_view")
        ]
        if fitting:
            yield "# If it is one of these, write this in place of part and current_ma:"
        for part in fitting:
            key, each = ("die_current_ma", ASSUMED_MA) if part.logic is None else ("die_duty_frac", ASSUMED_DUTY_FRAC)
            dice = ", ".join(f"{die.name} = {each:g}" for die in part.dice)
            yield f"#   part = {_text(part.code)}, {key} = {{ {dice} }}"
    yield "[[led]]"
    for key, value in values.items():
        yield f"{key} = {_value(value)}{_comment(key, group=group, assumed=assumed)}"


def _wrapped(words: str) -> Iterator[str]:
    line = "#"
    for word in words.split():
        if len(line) + 1 + len(word) > WIDTH:
            yield line
            line = "#"
        line += f" {word}"
    yield line


def _value(value: object) -> str:
    if isinstance(value, tuple):
        return "[" + ", ".join(_value(part) for part in value) + "]"
    return _text(value) if isinstance(value, str) else f"{value}"


def _comment(key: str, *, group: Group, assumed: Collection[str]) -> str:
    if key == "part" and group.first.part is None:
        colour = f"colour {ASSUMED}; " if group.colour_key in assumed else ""
        return f"  # {colour}size: {group.first.why_size}"
    return f"  # {ASSUMED}" if key == "current_ma" else ""


def _supply(draft: Draft) -> Iterator[str]:
    supply = draft.design.supply
    if supply is None:
        return
    kinds = ", ".join(get_args(SupplyKind))
    yield "[supply]"
    yield f"kind = {_text(supply.kind)}  # {f'{ASSUMED}; ' if 'supply' in draft.assumed else ''}{kinds}"


def _left_out(draft: Draft) -> Iterator[str]:
    if draft.left_out:
        refs = ", ".join(str(led.ref) for led in draft.left_out)
        yield ""
        yield from _wrapped(f"Left out: {refs}. No window is near, so their light does not cross the board.")
