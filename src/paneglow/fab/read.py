"""A folder or a zip of fabrication files, read as one board."""

import zipfile
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

import numpy as np
import shapely

from paneglow.errors import FabricationError
from paneglow.fab.archive import read_files, to_text
from paneglow.fab.curves import Bounds, joined_bounds, segment_bounds
from paneglow.fab.drawing import FlashMark, GerberDrawing, RegionMark, centre_lines
from paneglow.fab.drill import DrillHit, looks_like_drill
from paneglow.fab.drill_fit import BoardPlace, Points, check_fit, fit_drill
from paneglow.fab.drill_holes import build_hits, goes_through, plated_by_file, to_holes
from paneglow.fab.gerber import parse_gerber
from paneglow.fab.layer_words import IGNORED, OUTLINE
from paneglow.fab.layers import DRILL_ROLES, LayerFile, LayerPlan, build_layer_plan, looks_like_gerber
from paneglow.fab.outline import OutlineReading, build_outline
from paneglow.fab.records import Fabrication, Hole
from paneglow.fab.unfit import why_no_archive

NO_LAYER_FILES: Mapping[str, str] = MappingProxyType({})
LOOKED_AT_BYTES = 2**16  # of a single file: statements of a Gerber or drill file begin well before
SAME_OUTLINE_SHARE = 1e-3  # two outline files whose areas differ by less than this draw the same boards


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _OutlineFile:
    """One candidate for the outline with what it draws."""

    file: LayerFile
    reading: OutlineReading
    bounds_mm: Bounds
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _DrillReading:
    """Holes of one drill file; `is_settled` says whether anything but habit made them plated or not."""

    file: LayerFile
    holes: tuple[Hole, ...]
    is_settled: bool
    notes: tuple[str, ...]


def read_fabrication(
    path: Path, *, layer_files: Mapping[str, str] = NO_LAYER_FILES, ignored: Collection[str] = ()
) -> Fabrication:
    """Read a fabrication set: Gerber layers, drill files and outline of one board or panel.

    Parameters
    ----------
    path : Path
        A folder or a `.zip`, which is read in memory and never unpacked to disk.
    layer_files : mapping of str to str, optional
        Layer role to file name, for what attributes and names do not settle; "none" says that the board has no such
        layer. A mask that is said to be absent leaves its role out of `drawings`: that face is bare throughout.
    ignored : collection of str, optional
        Names of files that are no layer of the board.

    Returns
    -------
    Fabrication
        Everything in mm. The outline is the centre of the line that draws it. What was inferred stands in `notes`.

    Raises
    ------
    FabricationError
        With the file and what to do: a set that is not whole, layers that cannot be told apart, an outline that does
        not close. GerberError and DrillError name the line of a statement that cannot be read.
    """
    path = Path(path)
    try:
        return _read(path, layer_files=layer_files, ignored=ignored)
    except FabricationError as error:
        if error.path is None:
            raise type(error)(str(error), path=path) from None
        raise


def _read(path: Path, *, layer_files: Mapping[str, str], ignored: Collection[str]) -> Fabrication:
    if path.is_file() and not zipfile.is_zipfile(path):
        raise FabricationError(why_no_archive(path.name, is_layer=_is_layer(path)))
    plan = build_layer_plan(read_files(path), layer_files=layer_files, ignored=ignored)
    drawings = {role: _drawing(file) for role, file in sorted(plan.layers.items())}
    outline = _outline(plan, drawings=drawings)
    place = BoardPlace(bounds_mm=outline.bounds_mm, pad_points=_points(drawings, ("copper", "mask"), flashes=True))
    drills = [_drill(file, place=place, copper_layers=plan.copper_layers) for file in plan.drills]
    used = [
        file if file.role != OUTLINE or file.name == outline.file.name else _not_outline(file) for file in plan.files
    ]
    return Fabrication(
        source=path,
        files=tuple(file.to_use() for file in used),
        drawings=dict(drawings),
        holes=tuple(hole for drill in drills for hole in drill.holes),
        outline=outline.reading.outline,
        copper_layers=plan.copper_layers,
        notes=(*plan.notes, *_file_notes(used), *_drawing_notes(drawings), *outline.notes, *_drill_notes(drills)),
    )


def _is_layer(path: Path) -> bool:
    try:
        with path.open("rb") as stream:
            text = to_text(stream.read(LOOKED_AT_BYTES))
    except OSError as error:
        raise FabricationError(f"cannot be read: {error.strerror or error}") from error
    return text is not None and (looks_like_gerber(text) or looks_like_drill(text))


def _drawing(file: LayerFile) -> GerberDrawing:
    return parse_gerber(file.text or "", path=file.name)


def _outline(plan: LayerPlan, *, drawings: Mapping[str, GerberDrawing]) -> _OutlineFile:
    """Read the one outline: of several files that draw the same boards the first, of unlike ones none."""
    copper, mask = (_points(drawings, (kind,), flashes=False) for kind in ("copper", "mask"))
    readings: list[_OutlineFile] = []
    failures: list[FabricationError] = []
    stated = [file for file in plan.outlines if file.how_known == "attribute"]
    for file in stated or plan.outlines:
        try:
            readings.append(_outline_file(file, copper=copper, mask=mask))
        except FabricationError as error:
            failures.append(error)
    if not readings:
        raise failures[0]
    first, *others = readings
    unlike = next((other for other in others if not _are_alike(first.reading, other.reading)), None)
    if unlike is not None:
        raise FabricationError(
            f"two files could be {OUTLINE}: {first.file.name} and {unlike.file.name}; say which one in [board.layers],"
            f' {OUTLINE} = "{first.file.name}"'
        )
    doubts = tuple(f"{error}; not taken for the outline" for error in failures)
    return replace(first, notes=(*first.notes, *doubts))


def _outline_file(file: LayerFile, *, copper: Points, mask: Points) -> _OutlineFile:
    drawing = _drawing(file)
    lines = centre_lines(drawing)
    reading = build_outline(lines, copper_points=copper, mask_points=mask, name=file.name)
    bounds = joined_bounds(segment_bounds(line.segments) for line in lines) or reading.outline.bounds
    notes = [*(f"{file.name}: {note}" for note in drawing.notes), *reading.notes]
    if any(isinstance(drawn, FlashMark) for drawn in drawing.objects):
        notes.append(f"{file.name}: flashed shapes cut nothing; draw cut-outs as closed lines or in a drill file")
    return _OutlineFile(file=file, reading=reading, bounds_mm=bounds, notes=tuple(notes))


def _are_alike(first: OutlineReading, other: OutlineReading) -> bool:
    apart: float = shapely.symmetric_difference(first.outline, other.outline).area
    return apart <= SAME_OUTLINE_SHARE * first.outline.area


def _not_outline(file: LayerFile) -> LayerFile:
    return replace(file, role=IGNORED, note="another file draws the outline")


def _drill(file: LayerFile, *, place: BoardPlace, copper_layers: int) -> _DrillReading:
    hits, function, notes = _hits(file, place=place)
    if not goes_through(function, copper_layers=copper_layers):
        note = f"{file.name} drills only part of the way ({function}); its holes are left out"
        return _DrillReading(file=file, holes=(), is_settled=True, notes=(*notes, note))
    by_file = plated_by_file(file, function=function)
    holes = to_holes(hits, by_file=by_file, told=file.role in DRILL_ROLES)
    is_settled = by_file is not None or all(hit.plated is not None for hit in hits)
    return _DrillReading(file=file, holes=holes, is_settled=is_settled, notes=notes)


def _hits(file: LayerFile, *, place: BoardPlace) -> tuple[Sequence[DrillHit], str, tuple[str, ...]]:
    if not file.is_gerber:
        drill, notes = fit_drill(file.text or "", name=file.name, place=place)
        return drill.hits, drill.function, notes
    hits = build_hits(_drawing(file), name=file.name)
    notes = check_fit(hits, name=file.name, place=place) if hits else (f"{file.name}: drills no hole",)
    return hits, file.function, notes


def _points(drawings: Mapping[str, GerberDrawing], kinds: tuple[str, ...], *, flashes: bool) -> Points:
    """Places where layers of some kinds draw dark [mm], shape (n, 2); with `flashes` the middles of flashes only."""
    points = [
        point
        for role, drawing in drawings.items()
        if role.startswith(kinds)
        for point in (_flash_points(drawing) if flashes else _drawn_points(drawing))
    ]
    return np.array(points, dtype=np.float64).reshape(-1, 2)


def _flash_points(drawing: GerberDrawing) -> Iterable[tuple[float, float]]:
    return (drawn.at_mm for drawn in drawing.objects if isinstance(drawn, FlashMark) and drawn.dark)


def _drawn_points(drawing: GerberDrawing) -> Iterable[tuple[float, float]]:
    for drawn in drawing.objects:
        if not drawn.dark:
            continue
        if isinstance(drawn, FlashMark):
            yield drawn.at_mm
        elif isinstance(drawn, RegionMark):
            yield from (segment.start_mm for contour in drawn.contours for segment in contour)
        else:
            yield from (segment.end_mm for segment in drawn.segments)


def _file_notes(files: Sequence[LayerFile]) -> tuple[str, ...]:
    return tuple(f"{file.name}: {file.note}" for file in files if file.note and file.role != IGNORED)


def _drawing_notes(drawings: Mapping[str, GerberDrawing]) -> tuple[str, ...]:
    return tuple(f"{drawing.path}: {note}" for drawing in drawings.values() for note in drawing.notes)


def _drill_notes(drills: Sequence[_DrillReading]) -> tuple[str, ...]:
    if not drills:
        return ("no drill file: read as a board without holes; holes that are missing look like windows",)
    notes = [note for drill in drills for note in drill.notes]
    # A file beside one of unplated holes holds the plated ones; alone, it may hold both
    has_unplated = any(drill.is_settled and not any(hole.plated for hole in drill.holes) for drill in drills)
    for drill in drills:
        if not drill.is_settled and not has_unplated and drill.holes:
            notes.append(f"{drill.file.name} does not say which holes are plated; all taken as plated")
    return tuple(notes)
