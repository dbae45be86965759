"""Copper is one net where it touches, and across layers where a plated hole joins it; names never join anything."""

from pathlib import Path

import pytest
from shapely.geometry import MultiPolygon, Point, box

from paneglow.board import build_nets
from paneglow.fab import Fabrication, Hole, Netlist, NetPoint, parse_gerber

HEAD = "%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.5*%\n%TA.AperFunction,SMDPad,CuDef*%\n%ADD12R,1X1*%\n%TD*%\nG01*\n"


def xy(x, y):
    return f"X{round(x * 1e6)}Y{round(y * 1e6)}"


def pad(x, y, *, code=12):
    return f"D{code}*\n{xy(x, y)}D03*\n"


def trace(*corners):
    return f"D10*\n{xy(*corners[0])}D02*\n" + "".join(f"{xy(*corner)}D01*\n" for corner in corners[1:])


def area(left, low, right, high):
    corners = ((right, low), (right, high), (left, high), (left, low))
    return f"G36*\n{xy(left, low)}D02*\n" + "".join(f"{xy(*corner)}D01*\n" for corner in corners) + "G37*\n"


def fabrication(*, back="", front="", mask=None, holes=()):
    texts = {"copper_back": back, "copper_front": front}
    if mask is not None:
        texts["mask_back"] = mask
    return Fabrication(
        source=Path("a"),
        files=(),
        drawings={role: parse_gerber(f"{HEAD}{text}M02*\n", path=role) for role, text in texts.items()},
        holes=holes,
        outline=MultiPolygon([box(0, 0, 20, 10)]),
        copper_layers=2,
    )


def hole(x, y, *, plated=True):
    return Hole(start_mm=(x, y), end_mm=(x, y), diameter_mm=0.4, plated=plated)


def net_at(nets, x, y, *, layer="copper_back"):
    found = {piece.net for piece in nets.pieces if piece.layer == layer and piece.polygon.covers(Point(x, y))}
    assert len(found) == 1
    return found.pop()


def test_a_trace_joins_two_pads_and_a_gap_parts_them():
    nets = build_nets(fabrication(back=pad(2, 2) + pad(6, 2) + pad(10, 2) + trace((2, 2), (6, 2))))
    assert net_at(nets, 2, 2) == net_at(nets, 6, 2) != net_at(nets, 10, 2)
    assert nets.count == 2


def test_a_clear_line_parts_a_pour_and_a_later_trace_joins_it_again():
    cut = area(1, 1, 19, 9) + "%LPC*%\n" + trace((10, 0), (10, 10)) + "%LPD*%\n"
    parted = build_nets(fabrication(back=cut))
    assert net_at(parted, 5, 5) != net_at(parted, 15, 5)
    joined = build_nets(fabrication(back=cut + trace((8, 5), (12, 5))))
    assert net_at(joined, 5, 5) == net_at(joined, 15, 5)


@pytest.mark.parametrize(("plated", "same"), [(True, True), (False, False)])
def test_only_a_plated_hole_joins_faces(plated, same):
    nets = build_nets(fabrication(back=pad(5, 5), front=pad(5, 5), holes=(hole(5, 5, plated=plated),)))
    assert (net_at(nets, 4.6, 5) == net_at(nets, 4.6, 5, layer="copper_front")) is same


def test_an_unplated_hole_cuts_the_trace_it_goes_through():
    nets = build_nets(fabrication(back=trace((2, 2), (10, 2)), holes=(hole(6, 2, plated=False),)))
    assert net_at(nets, 3, 2) == net_at(nets, 9, 2), "0.4 mm in a trace of 0.5 mm leaves copper at both sides"
    wide = Hole(start_mm=(6, 2), end_mm=(6, 2), diameter_mm=0.6, plated=False)
    parted = build_nets(fabrication(back=trace((2, 2), (10, 2)), holes=(wide,)))
    assert net_at(parted, 3, 2) != net_at(parted, 9, 2)


def test_lands_are_copper_that_mask_leaves_bare_one_per_net():
    board = fabrication(back=pad(5, 5) + pad(9, 5) + trace((5, 5), (7, 5)), mask=area(4, 4, 10, 6))
    lands = build_nets(board).lands
    assert sorted(round(land.polygon.area, 2) for land in lands) == [1.0, 1.85], "pad; pad and 1.75 mm of trace"
    assert all(land.side == "back" and land.is_pad for land in lands)


def test_object_attributes_name_nets_and_pins():
    named = "%TO.N,SUPPLY*%\n%TO.P,D1,2,A*%\n" + pad(5, 5) + "%TD*%\n%TO.N,GROUND*%\n%TO.P,D1,1,K*%\n" + pad(9, 5)
    nets = build_nets(fabrication(back=named))
    assert nets.name_of(net_at(nets, 5, 5)) == "SUPPLY"
    assert [(pin.ref, pin.pin, pin.function, pin.net) for pin in nets.pins] == [
        ("D1", "2", "A", net_at(nets, 5, 5)),
        ("D1", "1", "K", net_at(nets, 9, 5)),
    ]
    assert nets.conflicts == ()


def test_names_that_copper_contradicts_are_told_and_do_not_join():
    opened = "%TO.N,SUPPLY*%\n" + pad(5, 5) + pad(9, 5)
    nets = build_nets(fabrication(back=opened))
    assert net_at(nets, 5, 5) != net_at(nets, 9, 5)
    assert nets.conflicts == ("net SUPPLY is 2 separate pieces of copper (at (5.0, 5.0) and (9.0, 5.0) mm)",)
    shorted = "%TO.N,SUPPLY*%\n" + pad(5, 5) + "%TO.N,GROUND*%\n" + pad(9, 5) + "%TD*%\n" + trace((5, 5), (9, 5))
    assert "copper joins the nets GROUND and SUPPLY" in build_nets(fabrication(back=shorted)).conflicts[0]


def test_a_netlist_names_the_copper_its_points_lie_on():
    points = [
        NetPoint(net=net, ref="D1", pin=pin, at_mm=at, access="back", line=1)
        for net, pin, at in (("CELL", "2", (5.0, 5.0)), ("RETURN", "1", (9.0, 5.0)), ("LOST", "7", (15.0, 8.0)))
    ]
    netlist = Netlist(path=Path("a.ipc"), points=tuple(points))
    nets = build_nets(fabrication(back=pad(5, 5) + pad(9, 5)), netlist=netlist)
    assert (nets.name_of(net_at(nets, 5, 5)), nets.name_of(net_at(nets, 9, 5))) == ("CELL", "RETURN")
    assert nets.conflicts[0].startswith("a.ipc: 1 of 3 test points lie on no copper, the first at (15.00, 8.00)")


def test_pins_that_are_not_connected_are_no_net():
    lone = "%TO.N,N/C*%\n%TO.P,D1,3*%\n" + pad(5, 5) + "%TO.P,D1,4*%\n" + pad(9, 5)
    nets = build_nets(fabrication(back=lone))
    assert nets.names == {}
    assert nets.conflicts == ()
    assert [pin.pin for pin in nets.pins] == ["3", "4"]


SHORTED = "%TO.N,SUPPLY*%\n" + pad(5, 5) + "%TO.N,GROUND*%\n" + pad(9, 5) + "%TD*%\n"


def test_nets_that_a_design_joins_on_purpose_are_no_short():
    shorted = fabrication(back=SHORTED + trace((5, 5), (9, 5)))
    assert build_nets(shorted, joined_nets=[("GROUND", "SUPPLY")]).conflicts == ()
    assert build_nets(shorted, joined_nets=[("GROUND", "OTHER")]).conflicts != ()


def test_copper_that_the_file_calls_a_part_ties_nets_without_a_short():
    tie = "%TA.AperFunction,EtchedComponent*%\n%ADD20R,4X0.3*%\n%TD*%\nD20*\n" + f"{xy(7, 5)}D03*\n"
    assert build_nets(fabrication(back=SHORTED + tie)).conflicts == ()


def test_pads_say_what_their_pins_do_although_a_netlist_names_them_too():
    named = "%TO.P,D1,2,A*%\n" + pad(5, 5) + "%TD*%\n" + pad(9, 5)
    points = [
        NetPoint(net=net, ref="D1", pin=pin, at_mm=at, access="back", line=1)
        for net, pin, at in (("CELL", "2", (5.0, 5.0)), ("RETURN", "1", (9.0, 5.0)))
    ]
    nets = build_nets(fabrication(back=named), netlist=Netlist(path=Path("a.ipc"), points=tuple(points)))
    assert [(pin.pin, pin.function) for pin in nets.pins] == [("2", "A"), ("1", "")]
    assert nets.name_of(net_at(nets, 5, 5)) == "CELL"
