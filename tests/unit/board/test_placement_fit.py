"""Placement rows in the frame of the board: sense of y, unit and origin."""

import pytest
from shapely.geometry import MultiPolygon, box

from paneglow.board.build import fit_placement
from paneglow.errors import PlacementError
from paneglow.fab import PlacementRow

OUTLINE = MultiPolygon([box(100, 50, 160, 90)])
PLACES = [(105.0, 55.0), (120.0, 80.0), (155.0, 60.0)]


def rows(*, factor=1.0, y_sign=1, shift=(0.0, 0.0)):
    return [
        PlacementRow(
            ref=f"D{number}",
            x_mm=x * factor + shift[0],
            y_mm=y * factor * y_sign + shift[1],
            rotation_deg=0.0,
            side="back",
            value="",
            package="",
            line=number + 1,
        )
        for number, (x, y) in enumerate(PLACES, start=1)
    ]


def test_rows_on_the_board_stay_as_they_are():
    assert fit_placement(rows(), outline=OUTLINE, path="p.csv") == (tuple(rows()), ())


def test_negated_y_is_turned_with_a_note():
    fitted, (note,) = fit_placement(rows(y_sign=-1), outline=OUTLINE, path="p.csv")
    assert [(row.x_mm, row.y_mm) for row in fitted] == PLACES
    assert "y is negated" in note


@pytest.mark.parametrize(
    ("factor", "words"),
    [(1 / 25.4, "inch read as mm"), (25.4, "mm read as inch"), (1 / 0.0254, "mil read as mm")],
)
@pytest.mark.parametrize("y_sign", [1, -1])
def test_a_wrong_unit_is_named_and_never_applied(factor, words, y_sign):
    with pytest.raises(PlacementError, match=words) as caught:
        fit_placement(rows(factor=factor, y_sign=y_sign), outline=OUTLINE, path="p.csv")
    assert "placement_unit" in str(caught.value)


def test_another_origin_is_told_with_both_places():
    with pytest.raises(PlacementError, match="one origin") as caught:
        fit_placement(rows(shift=(300, 300)), outline=OUTLINE, path="p.csv")
    assert "x 405.0 to 455.0 mm" in str(caught.value)


def test_a_part_over_the_edge_is_no_reason_to_doubt_the_file():
    stray = rows()[:2] + [rows(shift=(500, 0))[2]]
    assert fit_placement(stray, outline=OUTLINE, path="p.csv")[1] == ()
