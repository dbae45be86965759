"""What a file name says about its layer: endings and words as the trade uses them (common practice, no source)."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

IGNORED = "ignored"
OUTLINE = "outline"
INNER = "copper_inner"

# Endings that name one layer beyond doubt
STRONG_ENDINGS = {
    "gtl": "copper_front",
    "gbl": "copper_back",
    "gts": "mask_front",
    "gbs": "mask_back",
    "gto": "legend_front",
    "gbo": "legend_back",
    "gko": OUTLINE,
    "gml": OUTLINE,
}
# Endings of mechanical layers, of which the first mostly is the outline
WEAK_ENDINGS = {"gm": OUTLINE, "gm1": OUTLINE}
IGNORED_ENDINGS = {
    "gtp": "paste stencil",
    "gbp": "paste stencil",
    "gpt": "pad drawing",
    "gpb": "pad drawing",
    "gta": "assembly drawing",
    "gba": "assembly drawing",
    "gdd": "drill drawing",
    "gdl": "drill drawing",
    "gd1": "drill drawing",
    "gg1": "drill drawing",
}
DRILL_ENDINGS = frozenset({"drl", "xln", "xnc", "exc", "ncd", "drd"})
INNER_ENDING = re.compile(r"gl?(\d{1,2})")
MECHANICAL_ENDING = re.compile(r"gm(\d{1,2})")

SIDES = {
    **dict.fromkeys(("top", "front", "f", "upper", "component"), "front"),
    **dict.fromkeys(("bottom", "bot", "back", "b", "rear", "lower"), "back"),
}
KINDS = {
    **dict.fromkeys(("copper", "cu", "conductor", "conductive", "signal"), "copper"),
    **dict.fromkeys(("mask", "soldermask", "resist", "solderresist", "stopmask"), "mask"),
    **dict.fromkeys(("silk", "silks", "silkscreen", "legend", "overlay", "ident"), "legend"),
    **dict.fromkeys(("outline", "profile", "edge", "edges", "edgecuts", "contour", "boundary", "border"), OUTLINE),
}
IGNORED_WORDS = {
    **dict.fromkeys(("paste", "solderpaste", "pastemask", "cream", "stencil"), "paste stencil"),
    **dict.fromkeys(("map", "drlmap", "drillmap", "drill", "drills", "drl", "holes"), "drill drawing"),
    **dict.fromkeys(("vscore", "score", "scoring", "vcut", "vgroove"), "scoring lines"),
    **dict.fromkeys(("assembly", "assy", "courtyard"), "assembly drawing"),
    **dict.fromkeys(("adhesive", "glue"), "glue drawing"),
}
# Words that also name projects and folders: they make a drawing of a file only where nothing names a layer
DRAWING_WORDS = {
    **dict.fromkeys(("mechanical", "mech"), "mechanical drawing"),
    **dict.fromkeys(("documentation", "doc", "drawing", "drawings", "dwg", "dwgs", "comments"), "drawing"),
    **dict.fromkeys(("notes", "fab", "fabrication", "margin", "placement"), "drawing"),
}
INNER_WORDS = frozenset({"in", "inner", "innerlayer", "int", "internal", "mid", "midlayer", "l", "layer"})
NEUTRAL_WORDS = frozenset({"board", "layer", "solder", "pcb", "cuts", "screen", "gerber", "v"})
SHORTEST_WORD_ENDING = 5  # letters
SHORTEST_PART = 3  # letters; shorter words count only when they stand alone

_VOCABULARY = frozenset(
    word
    for word in (*SIDES, *KINDS, *IGNORED_WORDS, *DRAWING_WORDS, *INNER_WORDS, *NEUTRAL_WORDS)
    if len(word) >= SHORTEST_PART
)
_TOKEN = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")


@dataclass(frozen=True, slots=True, kw_only=True)
class NameHint:
    """What a name suggests: a role, `ignored`, or `copper_inner` with a number that only orders the inner layers."""

    role: str
    is_firm: bool = True
    number: int = 0
    reason: str = ""


def ending_of(base_name: str) -> str:
    """Ending of a file name in lower case, without its dot; empty where there is none."""
    return base_name.rpartition(".")[2].lower() if "." in base_name else ""


def hint_by_ending(base_name: str) -> NameHint | None:
    """Hint of a file name's ending, upper or lower case; None for endings that any Gerber file may have."""
    ending = ending_of(base_name)
    if ending in STRONG_ENDINGS:
        return NameHint(role=STRONG_ENDINGS[ending])
    if ending in WEAK_ENDINGS:
        return NameHint(role=WEAK_ENDINGS[ending], is_firm=False)
    if ending in IGNORED_ENDINGS:
        return NameHint(role=IGNORED, reason=IGNORED_ENDINGS[ending])
    if (inner := INNER_ENDING.fullmatch(ending)) is not None:
        return NameHint(role=INNER, number=int(inner[1]))
    if MECHANICAL_ENDING.fullmatch(ending) is not None:
        return NameHint(role=IGNORED, is_firm=False, reason="mechanical drawing")
    return None


def hint_by_words(words: Sequence[str]) -> NameHint | None:
    """Hint of the words of a file name; None where they say nothing or contradict each other."""
    reasons = [IGNORED_WORDS[word] for word in words if word in IGNORED_WORDS]
    drawings = [DRAWING_WORDS[word] for word in words if word in DRAWING_WORDS]
    if ("v", "cuts") in zip(words, words[1:], strict=False) or ("v", "cut") in zip(words, words[1:], strict=False):
        reasons.append("scoring lines")
    if reasons:
        return NameHint(role=IGNORED, reason=reasons[0])
    layer = _layer_hint(words)
    if not drawings:
        return layer
    return NameHint(role=IGNORED, reason=drawings[0]) if layer is None else None


def _layer_hint(words: Sequence[str]) -> NameHint | None:
    sides = {SIDES[word] for word in words if word in SIDES}
    kinds = {KINDS[word] for word in words if word in KINDS}
    number = _inner_number(words)
    if number is not None and not sides and kinds <= {"copper"}:
        return NameHint(role=INNER, number=number)
    if kinds == {OUTLINE}:
        return NameHint(role=OUTLINE)
    if not kinds and ("layer" in words or number is not None):
        kinds = {"copper"}  # "top layer", or "top L1", with nothing more means the copper
    if len(kinds) == 1 and len(sides) == 1 and kinds != {OUTLINE}:
        return NameHint(role=f"{kinds.pop()}_{sides.pop()}")
    return None


def to_words(base_name: str) -> tuple[str, ...]:
    """Words of a file name, lower case: split at capitals, digits, signs and inside compounds.

    The ending is left out unless it is a word itself.
    """
    stem, _, ending = base_name.rpartition(".")
    if len(ending) >= SHORTEST_WORD_ENDING:
        stem = base_name
    words: list[str] = []
    for token in _TOKEN.findall(stem):
        words.extend(_parts(token.lower()) or (token.lower(),))
    return tuple(words)


def without_shared_words(names: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Names without the words that all of them start with: those name the project, not the layer."""
    if len(names) < 2:
        return list(names)
    shared = 0
    while all(len(words) > shared and words[shared] == names[0][shared] for words in names):
        shared += 1
    return [words[shared:] for words in names]


@cache
def _parts(token: str) -> tuple[str, ...]:
    """Known words that a token is wholly made of, the longest first; empty where it is not."""
    if token in _VOCABULARY or not token:
        return (token,) if token else ()
    for length in range(len(token) - SHORTEST_PART, SHORTEST_PART - 1, -1):
        head, rest = token[:length], _parts(token[length:])
        if head in _VOCABULARY and rest:
            return (head, *rest)
    return ()


def _inner_number(words: Sequence[str]) -> int | None:
    for word, after in zip(words, words[1:], strict=False):
        if word in INNER_WORDS and after.isdecimal():
            return int(after)
    return None
