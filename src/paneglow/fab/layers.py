"""Which file of a set is which layer: by its X2 file function, by its name, by the design's word; never by guess."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from paneglow.errors import FabricationError
from paneglow.fab.archive import SetFile, to_text
from paneglow.fab.drill import looks_like_drill
from paneglow.fab.layer_words import (
    DRILL_ENDINGS,
    IGNORED,
    INNER,
    OUTLINE,
    ending_of,
    hint_by_ending,
    hint_by_words,
    to_words,
    without_shared_words,
)
from paneglow.fab.records import FileUse, HowKnown
from paneglow.fab.unfit import why_no_gerber, why_several_boards

DRILL = "drill"
LISTED_QUESTIONS = 8  # of one kind in one message; a set of another kind of file leaves hundreds open
NO_FILE = "none"  # what a design writes for a layer that the board does not have
OUTER_ROLES = ("copper_front", "copper_back", "mask_front", "mask_back", "legend_front", "legend_back")
NEEDED_ROLES = ("copper_front", "copper_back", "mask_front", "mask_back", OUTLINE)
DRILL_ROLES = ("drill_plated", "drill_unplated")
_ROLE = re.compile(rf"{'|'.join((*OUTER_ROLES, *DRILL_ROLES, OUTLINE))}|{INNER}_[1-9]\d?")

# Gerber layer format specification 2022.02, section 5.6.3: the first field of .FileFunction
_SIDED = {"Soldermask": "mask", "Legend": "legend"}
_SIDE_FIELDS = {"Top": "front", "Bot": "back"}
_DRILL_FUNCTIONS = frozenset({"Plated", "NonPlated", "MixedPlating"})
_FILE_FUNCTION = re.compile(r"(?:%|G04\s*#@!\s*)TF\.FileFunction,([^*%]*)\*")
_FILE_POLARITY = re.compile(r"(?:%|G04\s*#@!\s*)TF\.FilePolarity,\s*(Positive|Negative)")
_GERBER_STATEMENT = re.compile(r"%FS[LTD]?[AI]|%MO(?:MM|IN)\*|\bD0?[123]\*|^M0?2\*", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerFile:
    """One file of a set with what it was taken for; `level` orders inner copper, `text` is None for binary files."""

    name: str
    text: str | None
    role: str
    how_known: HowKnown
    note: str = ""
    level: int = 0
    function: str = ""
    is_gerber: bool = False

    def to_use(self) -> FileUse:
        """Convert to the record that a fabrication keeps."""
        return FileUse(name=self.name, role=self.role, how_known=self.how_known, note=self.note)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerPlan:
    """Every file of a set with its role; `layers` has one file per role, `outlines` all candidates for the outline."""

    files: tuple[LayerFile, ...]
    layers: dict[str, LayerFile]
    outlines: tuple[LayerFile, ...]
    drills: tuple[LayerFile, ...]
    copper_layers: int
    notes: tuple[str, ...]


def build_layer_plan(
    files: Sequence[SetFile], *, layer_files: Mapping[str, str], ignored: Collection[str] = ()
) -> LayerPlan:
    """Sort the files of a set into layers, drill files and the rest.

    Parameters
    ----------
    files : sequence of SetFile
        In any order: the plan depends on names and contents only.
    layer_files : mapping of role to file name
        The design's word, above all else; "none" says that the board has no such layer.
    ignored : collection of str
        Names of files that are no layer, whatever they look like.

    Raises
    ------
    FabricationError
        If needed layers have no file, several files could be one layer, files look like layers but their places are
        not known, or `layer_files` or `ignored` name what is not there. The message names all such files at once and
        the lines to add.
    """
    ordered = sorted(files, key=lambda file: file.name)
    left_out = {_named_file(ordered, name, said="[board] ignored_files").name for name in ignored}
    set_aside = [
        LayerFile(name=file.name, text=None, role=IGNORED, how_known="design", note="ignored, as the design says")
        for file in ordered
        if file.name in left_out
    ]
    ordered = [file for file in ordered if file.name not in left_out]
    found = _hinted(ordered)
    told = _told_roles(ordered, layer_files=layer_files)
    found = [_overridden(file, told=told, layer_files=layer_files) for file in found]
    absent = frozenset(role for role, name in layer_files.items() if name == NO_FILE)
    open_questions = _Questions()
    found = _with_numbered_inner(found)
    found, layers = _one_file_per_layer(found, questions=open_questions)
    _ask_for_missing(found, absent=absent, questions=open_questions)
    open_questions.raise_if_any()
    copper = sum(role.startswith("copper") for role in layers)
    return LayerPlan(
        files=tuple(sorted([*found, *set_aside], key=lambda file: file.name)),
        layers=layers,
        outlines=tuple(file for file in found if file.role == OUTLINE),
        drills=tuple(file for file in found if file.role in (DRILL, *DRILL_ROLES)),
        copper_layers=copper,
        notes=_absence_notes(layers, absent=absent),
    )


@dataclass(slots=True, kw_only=True)
class _Questions:
    """What a set leaves open about its layers, collected so that a person is asked once; grows, so not a record."""

    what: list[str] = field(default_factory=list)
    lines: dict[str, str] = field(default_factory=dict)  # of [board.layers], by role
    ignorable: list[str] = field(default_factory=list)

    def ask_which(self, role: str, files: Sequence[LayerFile]) -> None:
        """Ask which of several files is a layer."""
        self.what.append(f"{len(files)} files could be {role}: {' and '.join(file.name for file in files)}")
        self.lines[role] = files[0].name
        self.ignorable += [file.name for file in files[1:]]

    def raise_if_any(self) -> None:
        """Raise with everything that is open and what to write."""
        if not self.what:
            return
        shown = self.what[:LISTED_QUESTIONS]
        more = len(self.what) - len(shown)
        lines = ", ".join(f'{role} = "{name}"' for role, name in list(self.lines.items())[:LISTED_QUESTIONS])
        write = f"; in [board.layers] of the design (or as --layer ROLE=FILE) write {lines}" if lines else ""
        names = ", ".join(f'"{name}"' for name in self.ignorable[:LISTED_QUESTIONS])
        skip = f"; name what is no layer in [board] ignored_files = [{names}] (or as --ignore FILE)" if names else ""
        raise FabricationError("; ".join(shown) + (f" and {more} more" if more else "") + write + skip)


def looks_like_gerber(text: str) -> bool:
    """Whether text has statements that only Gerber files have."""
    return _GERBER_STATEMENT.search(text) is not None


def _hinted(files: Sequence[SetFile]) -> list[LayerFile]:
    texts = [to_text(file.content) for file in files]
    gerbers = [text is not None and looks_like_gerber(text) for text in texts]
    words = [to_words(file.base_name) for file in files]
    own = iter(without_shared_words([w for w, is_gerber in zip(words, gerbers, strict=True) if is_gerber]))
    hinted = []
    for file, text, is_gerber in zip(files, texts, gerbers, strict=True):
        if text is not None and is_gerber:
            hinted.append(_gerber_role(file, text=text, words=next(own)))
        elif text is not None and looks_like_drill(text):
            hinted.append(_drill_file(file, text=text))
        else:
            hinted.append(_other_file(file, text=text))
    return hinted


def _drill_file(file: SetFile, *, text: str) -> LayerFile:
    how_known: HowKnown = "attribute" if "TF.FileFunction" in text else "content"
    return LayerFile(name=file.name, text=text, role=DRILL, how_known=how_known)


def _other_file(file: SetFile, *, text: str | None) -> LayerFile:
    hint = hint_by_ending(file.base_name)
    expected = "drill file" if ending_of(file.base_name) in DRILL_ENDINGS else ""
    if hint is not None and hint.is_firm and hint.role != IGNORED:
        expected = f"layer ({hint.role})"
    if expected:
        state = "is empty" if not file.content.strip() else "holds none of its statements"
        raise FabricationError(f"{file.name} has the name of a {expected} but {state}; export it again or leave it out")
    note = "not a Gerber or drill file"
    return LayerFile(name=file.name, text=text, role=IGNORED, how_known="content", note=note)


def _gerber_role(file: SetFile, *, text: str, words: tuple[str, ...]) -> LayerFile:
    by_name = _role_by_name(file, text=text, words=words)
    function = _FILE_FUNCTION.search(text)
    if function is None:
        return by_name
    by_attribute = _with_polarity(_role_by_function(function[1].strip(), name=file.name, text=text))
    return _with_doubt(by_attribute, by_name=by_name)


def _role_by_function(function: str, *, name: str, text: str) -> LayerFile:
    kind, *rest = [part.strip() for part in function.split(",")]
    file = LayerFile(
        name=name, text=text, role=IGNORED, how_known="attribute", function=function, is_gerber=True, note=function
    )
    side = next((_SIDE_FIELDS[part] for part in rest if part in _SIDE_FIELDS), None)
    if kind in _DRILL_FUNCTIONS:
        return replace(file, role=DRILL, note="")
    if kind == "Profile":
        return replace(file, role=OUTLINE, note="")
    if kind in _SIDED and side is not None:
        return replace(file, role=f"{_SIDED[kind]}_{side}", note="")
    if kind == "Copper":
        level = next((int(part[1:]) for part in rest if re.fullmatch(r"L\d{1,2}", part)), 0)
        return replace(file, role=INNER if side is None else f"copper_{side}", level=level, note="")
    return file


def _with_polarity(file: LayerFile) -> LayerFile:
    """Refuse copper that is drawn where it is absent; mask files draw openings, whatever they say (common practice)."""
    polarity = _FILE_POLARITY.search(file.text or "")
    if polarity is None:
        return file
    if polarity[1] == "Negative" and file.role.startswith("copper"):
        raise FabricationError(
            "draws where copper is absent (FilePolarity Negative); export copper layers as positive", path=file.name
        )
    if polarity[1] == "Positive" and file.role.startswith("mask"):
        return replace(file, note="says FilePolarity Positive; what it draws is taken for openings all the same")
    return file


def _with_doubt(file: LayerFile, *, by_name: LayerFile) -> LayerFile:
    """Note where a name contradicts the file's own attribute; the attribute holds."""
    known = by_name.role not in (IGNORED, "", INNER) and file.role not in (IGNORED, INNER)
    if known and by_name.role != file.role:
        return replace(file, note=f"its name suggests {by_name.role}; its attribute says {file.role} and holds")
    return file


def _role_by_name(file: SetFile, *, text: str, words: tuple[str, ...]) -> LayerFile:
    by_ending, by_words = hint_by_ending(file.base_name), hint_by_words(words)
    unknown = LayerFile(name=file.name, text=text, role="", how_known="file name", is_gerber=True)
    hints = [hint for hint in (by_ending, by_words) if hint is not None]
    if not hints:
        return unknown
    firm = [hint for hint in hints if hint.is_firm]
    if by_ending is not None and by_ending.is_firm and by_words is not None and by_words.role == IGNORED:
        firm = [by_ending]  # a project may be called "drawing board"; an ending says one thing only
    roles = {hint.role for hint in firm}
    if len(roles) > 1:
        named = f"its ending says {by_ending.role}, its words say {by_words.role}" if by_ending and by_words else ""
        return replace(unknown, note=named)
    best = firm[-1] if firm else hints[0]
    return replace(unknown, role=best.role, note=best.reason, level=best.number)


def _told_roles(files: Sequence[SetFile], *, layer_files: Mapping[str, str]) -> dict[str, str]:
    """File name to role, as the design says."""
    told: dict[str, str] = {}
    for role, wanted in layer_files.items():
        if not _ROLE.fullmatch(role):
            raise FabricationError(
                f"[board.layers] names the layer {role!r}; allowed are {', '.join(OUTER_ROLES)}, "
                f"{INNER}_1 and on, {OUTLINE}, {', '.join(DRILL_ROLES)}"
            )
        if wanted == NO_FILE:
            continue
        name = _named_file(files, wanted, said=f"[board.layers] {role}").name
        if name in told:
            raise FabricationError(f"[board.layers] gives {name} to both {told[name]} and {role}")
        told[name] = role
    return told


def _named_file(files: Sequence[SetFile], wanted: str, *, said: str) -> SetFile:
    """The one file of a name, with its folders or without."""
    matches = [file for file in files if wanted in (file.name, file.base_name)]
    if len(matches) != 1:
        names = [file.name for file in matches]
        state = "is not in the set" if not matches else f"could be {' or '.join(names)}"
        raise FabricationError(f"{said} = {wanted!r} {state}; there are {', '.join(file.name for file in files)}")
    return matches[0]


def _overridden(file: LayerFile, *, told: Mapping[str, str], layer_files: Mapping[str, str]) -> LayerFile:
    if file.name in told:
        if file.text is None or not (file.is_gerber or looks_like_drill(file.text)):
            raise FabricationError(
                f"[board.layers] {told[file.name]} names it, but it is no Gerber or drill file", path=file.name
            )
        role = told[file.name]
        level = int(role.rpartition("_")[2]) if role.startswith(INNER) else 0
        return replace(file, role=INNER if level else role, level=level, how_known="design", note="")
    if file.role in layer_files:
        return replace(file, role=IGNORED, note=f"[board.layers] says otherwise for {file.role}")
    return file


def _with_numbered_inner(files: Sequence[LayerFile]) -> list[LayerFile]:
    """Inner copper numbered from the front, in the order of the numbers in attributes or names."""
    by_level: dict[int, list[LayerFile]] = {}
    for file in files:
        if file.role == INNER:
            by_level.setdefault(file.level, []).append(file)
    role_of = {
        file.name: f"{INNER}_{place}"
        for place, level in enumerate(sorted(by_level), start=1)
        for file in by_level[level]
    }
    _check_levels(files)
    return [replace(file, role=role_of.get(file.name, file.role)) for file in files]


def _check_levels(files: Sequence[LayerFile]) -> None:
    """Raise where the attributes count more copper layers than there are files."""
    copper = [file for file in files if file.role.startswith("copper") and file.how_known == "attribute"]
    levels = {file.level for file in copper}
    missing = sorted(set(range(1, max(levels, default=0) + 1)) - levels)
    if missing and all(levels) and len(copper) == sum(file.role.startswith("copper") for file in files):
        named = ", ".join(f"L{level}" for level in missing)
        raise FabricationError(f"the attributes count {max(levels)} copper layers, but no file draws {named}; add it")


def _one_file_per_layer(
    files: Sequence[LayerFile], *, questions: _Questions
) -> tuple[list[LayerFile], dict[str, LayerFile]]:
    """One file for each layer; equal copies beside it are set aside, unlike ones and unknown ones are asked for."""
    kept: list[LayerFile] = []
    layers: dict[str, LayerFile] = {}
    rivals: dict[str, list[LayerFile]] = {}
    unknown = [file for file in files if file.role == ""]
    for file in files:
        known = layers.get(file.role)
        if file.role in ("", IGNORED, DRILL, OUTLINE, *DRILL_ROLES):
            kept.append(file)
        elif known is None:
            layers[file.role] = file
            kept.append(file)
        elif known.text == file.text:
            kept.append(replace(file, role=IGNORED, note=f"same content as {known.name}"))
        else:
            rivals.setdefault(file.role, [known]).append(file)
    several_boards = why_several_boards({role: [file.name for file in files] for role, files in rivals.items()})
    if several_boards is not None:
        raise FabricationError(several_boards)
    for role, several in rivals.items():
        questions.ask_which(role, several)
    if unknown:
        reasons = [f"{file.name} ({file.note})" if file.note else file.name for file in unknown]
        looks, whose = ("looks like a layer", "its name") if len(unknown) == 1 else ("look like layers", "their names")
        why = "" if all(file.note for file in unknown) else f", but {whose} and attributes do not say which"
        questions.what.append(f"{' and '.join(reasons)} {looks}{why}")
        questions.ignorable += [file.name for file in unknown]
    return kept, layers


def _ask_for_missing(files: Sequence[LayerFile], *, absent: frozenset[str], questions: _Questions) -> None:
    if not any(file.is_gerber for file in files):
        has_drill = any(file.role.startswith(DRILL) for file in files)
        raise FabricationError(why_no_gerber([file.name for file in files], has_drill=has_drill))
    known = absent | {file.role for file in files}
    missing = [role for role in NEEDED_ROLES if role not in known]
    unknown = [file.name for file in files if file.role == ""]
    if missing:
        without = f' ("{NO_FILE}" where the board has no such layer)' if set(missing) - {OUTLINE} else ""
        questions.what.append(f"has no file for {' and '.join(missing)}{without}")
    for role in missing or (["mask_front"] if unknown else []):
        questions.lines.setdefault(role, unknown[0] if len(unknown) == 1 else "its file name")


def _absence_notes(layers: Mapping[str, LayerFile], *, absent: frozenset[str]) -> tuple[str, ...]:
    meanings = {"copper": "no copper there", "mask": "that face has no mask at all", "legend": "no ink there"}
    notes = []
    for role in OUTER_ROLES:
        if role in layers:
            continue
        source = "the design says the board has none" if role in absent else "no file"
        notes.append(f"{role}: {source}; {meanings[role.partition('_')[0]]}")
    return tuple(notes)
