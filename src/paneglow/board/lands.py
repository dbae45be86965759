"""Lands: copper that solder mask leaves bare, by face and net."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from paneglow.board.nets_records import CopperPiece, Land
from paneglow.design import Side
from paneglow.fab import Fabrication, GerberDrawing, drawn_pieces

FACES: Mapping[Side, tuple[str, str]] = {"front": ("copper_front", "mask_front"), "back": ("copper_back", "mask_back")}
LEAST_LAND_MM2 = 0.02  # chosen: an 0201 land has 0.1 mm2; smaller is the rim of a mask opening
PAD_FUNCTIONS = ("SMDPad", "ComponentPad", "BGAPad", "ConnectorPad", "HeatsinkPad")  # Gerber format, aperture functions


def find_lands(fabrication: Fabrication, *, pieces: Sequence[CopperPiece]) -> tuple[Land, ...]:
    """All lands of both faces.

    Parameters
    ----------
    fabrication : Fabrication
        For its mask; a face without a mask layer is bare throughout.
    pieces : sequence of CopperPiece
        Copper with its nets.

    Returns
    -------
    tuple of Land
        One per connected bare area of one net. Two pads in one mask opening that copper joins are one land.
    """
    return tuple(land for side in FACES for land in _lands(fabrication, side, pieces=pieces))


def _lands(fabrication: Fabrication, side: Side, *, pieces: Sequence[CopperPiece]) -> Iterator[Land]:
    copper_role, mask_role = FACES[side]
    copper = [piece for piece in pieces if piece.layer == copper_role]
    mask = fabrication.drawings.get(mask_role)
    if isinstance(mask, GerberDrawing):
        openings = [piece.polygon for piece in drawn_pieces(mask, bounds_mm=fabrication.outline.bounds)]
    else:
        openings = [Polygon(piece.exterior) for piece in fabrication.outline.geoms]
    if not copper or not openings:
        return
    bare: dict[int, list[shapely.Geometry]] = defaultdict(list)
    tree = shapely.STRtree([piece.polygon for piece in copper])
    for opening, place in tree.query(np.array(openings, dtype=object), predicate="intersects").T.tolist():
        bare[copper[place].net].append(shapely.intersection(openings[opening], copper[place].polygon))
    pads = {
        net: shapely.union_all([piece.polygon for piece in copper if piece.net == net and _is_pad(piece)])
        for net in bare
    }
    for net, parts in bare.items():
        for part in shapely.get_parts(shapely.union_all(parts)):
            if isinstance(part, Polygon | MultiPolygon) and part.area >= LEAST_LAND_MM2:
                yield Land(side=side, polygon=part, net=net, is_pad=bool(shapely.intersects(pads[net], part)))


def _is_pad(piece: CopperPiece) -> bool:
    return bool(piece.function) and piece.function[0] in PAD_FUNCTIONS
