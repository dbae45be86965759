"""Netlists for bare-board test are read as an independent reader of the format reads them."""

from pathlib import Path

import pytest
from gerbonara.ipc356 import Netlist as RefereeNetlist

from paneglow.errors import FabricationError
from paneglow.fab import parse_netlist, read_netlist


def record(kind, net, ref, pin, *, access="A02", at=(12700, -5080), hole="          "):
    place = f"X{at[0]:+07d}Y{at[1]:+07d}"
    return f"{kind}{net:<14}   {ref:<6}-{pin:<4} {hole[:6]}{access}{place}X0600Y0600R000 S0"


def netlist_text(*records, units="CUST 1"):
    return "\n".join(["C  of a test", "P  JOB tiny", f"P  UNITS {units}", *records, "999"]) + "\n"


TEXT = netlist_text(
    record("327", "SUPPLY", "D1", "2"),
    record("327", "GROUND", "D1", "1", access="A01", at=(0, 0)),
    record("317", "GROUND", "VIA", "", access="A00", at=(123456, 654321), hole="D0300P"),
    record("327", "N/C", "S1", "3"),
)


def test_points_are_where_an_independent_reader_sees_them():
    ours = parse_netlist(TEXT, path=Path("a.ipc"))
    referee = RefereeNetlist.from_string(TEXT, filename="a.ipc")
    for point, record in zip(ours.points, referee.test_records, strict=True):
        # The file's step is 0.001 mm; ours is rounded to 1e-6 mm
        assert point.at_mm == pytest.approx((record.x, record.y), abs=1e-6)
        assert point.net == (record.net_name or "")
    assert [point.access for point in ours.points] == ["back", "front", "both", "back"]
    assert [(point.ref, point.pin) for point in ours.points[:2]] == [("D1", "2"), ("D1", "1")]


@pytest.mark.parametrize(("units", "step_mm"), [("CUST 0", 0.00254), ("CUST 1", 0.001), ("CUST", 0.00254)])
def test_the_stated_unit_scales_places(units, step_mm):
    points = parse_netlist(netlist_text(record("327", "A", "D1", "1"), units=units), path=Path("a.ipc")).points
    assert points[0].at_mm == pytest.approx((12700 * step_mm, -5080 * step_mm))


def test_long_names_come_from_their_parameter():
    text = netlist_text("P  NNAME1 a-name-of-more-than-14-columns", record("327", "NNAME1", "D1", "1"))
    assert parse_netlist(text, path=Path("a.ipc")).points[0].net == "a-name-of-more-than-14-columns"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (record("327", "A", "D1", "1"), "stands before the unit"),
        (netlist_text(), "no test points"),
        (netlist_text(record("327", "A", "D1", "1").replace("X+012700", "X+01270x")), "X of a test point is"),
        (netlist_text(record("327", "A", "D1", "1")[:40]), "no X in column 42"),
        (
            netlist_text(record("327", "A", "D1", "1", access="A0\u00b2")),
            "names layer 'A0\u00b2'; allowed are A and two",
        ),
        (netlist_text(units="FURLONG"), "unit 'FURLONG' is unknown"),
    ],
)
def test_a_bad_netlist_gives_one_clear_line(text, words):
    with pytest.raises(FabricationError, match=words) as caught:
        parse_netlist(text, path=Path("a.ipc"))
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(FabricationError, match=r"none\.ipc: cannot be read"):
        read_netlist(tmp_path / "none.ipc")
