"""From found LEDs and a few answers to a design that runs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from paneglow.board import Board
from paneglow.catalog import Catalog, Colour
from paneglow.design import BoardDesign, Design, LedGroup, Mounting, Supply, SupplyKind, WindowDesign
from paneglow.drafting.find import FoundLed
from paneglow.errors import DesignError

# Package of the starting catalogue by mounting style; {size} is the case
PACKAGE_OF: dict[Mounting, str] = {
    "lens_down": "tv-{size}",
    "top_view": "tv-{size}",
    "side_view": "sv-1204",
    "reverse": "rv-1206",
    "cutout": "co-1206",
}
ASSUMED_COLOUR: Colour = "white"
ASSUMED_MA = 5.0  # chosen: a quarter of what chip LEDs usually bear; shows the pattern, not the brightness
ASSUMED_THICKNESS_MM = 1.6  # common practice, no source: what is delivered where nothing is asked
ASSUMED_MASK = "green"  # common practice, no source: what is delivered where nothing is asked
ASSUMED_SUPPLY: SupplyKind = "usb"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """LEDs that are drafted alike."""

    leds: tuple[FoundLed, ...]  # all of one size, style, side and window, with the same words

    @property
    def first(self) -> FoundLed:
        """One of them, for what they have in common."""
        return self.leds[0]

    @property
    def colour_key(self) -> str:
        """Key of the question what colour they are."""
        return colour_key(self.first)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something that no file says and that a person knows."""

    key: str  # what it is about: thickness_mm, mask, supply, or colour of the words of an LED
    words: str  # as it is asked
    default: str  # what is assumed where nobody answers
    allowed: tuple[str, ...]  # words that may be answered; none where it is a number


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A design, and the origin of what stands in it."""

    design: Design  # What runs
    groups: tuple[Group, ...]  # of `design.led`, in the same order
    left_out: tuple[FoundLed, ...]  # LEDs whose light crosses the board nowhere
    assumed: tuple[str, ...]  # keys of questions that nobody answered


def questions_of(leds: Sequence[FoundLed], *, catalog: Catalog) -> tuple[Question, ...]:
    """What to ask before a design is drafted, in the order of asking.

    Parameters
    ----------
    leds : sequence of FoundLed
    catalog : Catalog
        Masks that may be answered.
    """
    masks = tuple(film.code for film in catalog.films.values() if film.kind == "mask")
    colours: tuple[str, ...] = get_args(Colour)
    asked = [
        Question(key="thickness_mm", words="Thickness of the board in mm", default=f"{ASSUMED_THICKNESS_MM:g}",
                 allowed=()),
        Question(key="mask", words="Colour of the solder mask", default=ASSUMED_MASK, allowed=masks),
    ]  # fmt: skip
    for key, alike in _by_words(leds).items():
        if alike[0].colour is None:
            words = f"Colour of {_refs_text(alike)}"
            asked.append(Question(key=key, words=words, default=ASSUMED_COLOUR, allowed=colours))
    asked.append(
        Question(key="supply", words="What drives it", default=ASSUMED_SUPPLY, allowed=tuple(get_args(SupplyKind)))
    )
    return tuple(asked)


def check_answer(question: Question, *, words: str) -> str:
    """An answer as it is kept.

    Raises
    ------
    DesignError
        Where it is none; the words say what may be answered.
    """
    said = words.strip().lower() or question.default
    if question.allowed:
        if said not in question.allowed:
            raise DesignError(f"{words!r} is none of {', '.join(question.allowed)}")
        return said
    try:
        float(said.replace(",", "."))
    except ValueError:
        raise DesignError(f"{words!r} is no number of mm") from None
    return said.replace(",", ".")


def draft_design(
    board: Board, *, leds: Sequence[FoundLed], stated: BoardDesign, answers: Mapping[str, str], catalog: Catalog
) -> Draft:
    """A design of the LEDs found, with what was answered and what is assumed.

    Parameters
    ----------
    board : Board
        Gives the name and the windows.
    leds : sequence of FoundLed
    stated : BoardDesign
        What names the files; thickness and mask are taken from the answers.
    answers : mapping of str to str
        By the key of a question; questions without an answer take their default.
    catalog : Catalog

    Raises
    ------
    DesignError
        Where an answer is none.
    """
    asked = questions_of(leds, catalog=catalog)
    said = {question.key: check_answer(question, words=answers.get(question.key, "")) for question in asked}
    shining = [led for led in leds if led.lights]
    groups: dict[tuple[Any, ...], list[FoundLed]] = {}
    for led in shining:
        alike = (
            led.words,
            led.part and led.part.code,
            led.size,
            led.mounting,
            led.side,
            led.window,
            led.pads,
            led.ref is None and led.at_mm,
        )
        groups.setdefault(alike, []).append(led)
    drafted = tuple(Group(leds=tuple(group)) for group in groups.values())
    lit = dict.fromkeys(led.window for led in shining if led.window is not None)
    places = {window.name: window.centre_mm for window in board.survey.windows}
    kind: SupplyKind = said["supply"]  # type: ignore[assignment]  # is one of the allowed words
    design = Design(
        name=board.name,
        board=stated.model_copy(update={"thickness_mm": float(said["thickness_mm"]), "mask": said["mask"]}),
        led=tuple(_led_group(group, colour=_colour_of(group.first, said=said)) for group in drafted),
        window=tuple(
            WindowDesign(name=name, at_mm=(round(places[name][0], 2), round(places[name][1], 2))) for name in lit
        ),
        supply=Supply(kind=kind),
    )
    return Draft(
        design=design,
        groups=drafted,
        left_out=tuple(led for led in leds if led not in shining),
        assumed=tuple(question.key for question in asked if not answers.get(question.key, "").strip()),
    )


def colour_key(led: FoundLed) -> str:
    """Key of the question what colour an LED is; LEDs with the same words are asked for at once."""
    return f"colour of {led.words or 'proposed LEDs'}"


def _by_words(leds: Sequence[FoundLed]) -> dict[str, list[FoundLed]]:
    """LEDs that share value and package share their colour."""
    found: dict[str, list[FoundLed]] = {}
    for led in leds:
        if led.lights:
            found.setdefault(colour_key(led), []).append(led)
    return found


def _colour_of(led: FoundLed, *, said: Mapping[str, str]) -> str:
    return led.colour or said[colour_key(led)]


def _refs_text(leds: Sequence[FoundLed]) -> str:
    refs = [led.ref for led in leds if led.ref is not None]
    if not refs:
        return f"the {len(leds)} proposed LEDs"
    few = ", ".join(refs[:3]) + (f" and {len(refs) - 3} more" if len(refs) > 3 else "")  # noqa: PLR2004
    return f"{few} ({leds[0].words})" if leds[0].words else few


def _led_group(group: Group, *, colour: str) -> LedGroup:
    led = group.first
    part = led.part.code if led.part is not None else f"{PACKAGE_OF[led.mounting].format(size=led.size)}-{colour}"
    common: dict[str, Any] = {
        "part": part, "mounting": led.mounting, "window": led.window, "current_ma": ASSUMED_MA,
    }  # fmt: skip
    if led.ref is None:
        return LedGroup(at_mm=led.at_mm, side=led.side, **common)
    return LedGroup(refs=tuple(str(one.ref) for one in group.leds), **common)


def assumptions_of(draft: Draft) -> tuple[str, ...]:
    """What a draft rests on that no file says, one sentence for the board and one per LED or group of equal ones."""
    board, supply = draft.design.board, draft.design.supply
    kind = "" if supply is None else f", supply {supply.kind}"
    said = [f"board: {board.thickness_mm:g} mm thick, {board.mask} mask, {board.laminate}{kind}"]
    for group, drafted in zip(draft.groups, draft.design.led, strict=True):
        first = group.first
        refs = ", ".join(led.ref or f"LED at ({led.at_mm[0]:g}, {led.at_mm[1]:g}) mm" for led in group.leds)
        said.append(
            f"{refs}: {drafted.part}, {drafted.mounting.replace('_', ' ')}, {drafted.current_ma:g} mA; {first.why_led};"
            f" {first.why_mounted}; {first.why_size}"
        )
    return tuple(said)
