"""design.toml out: the same design comes back, comments stay, and a broken write leaves the old file."""

import os

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from paneglow.design import (
    BackCover,
    BoardDesign,
    Design,
    Goals,
    LedGroup,
    Run,
    Supply,
    View,
    WindowDesign,
    read_design,
    write_design,
)
from paneglow.errors import DesignError

SIGNS = st.characters(exclude_categories=["Cs", "Cc", "Cf", "Zl", "Zp"])
NAMES = st.text(SIGNS, min_size=1, max_size=12)
COORDINATES = st.floats(-1e4, 1e4)
POINTS = st.tuples(COORDINATES, COORDINATES)
FRACTIONS = st.floats(0, 1)
POSITIVE = st.floats(1e-9, 1e6)


def optional(strategy):
    return st.none() | strategy


@st.composite
def leds(draw, *, refs):
    placed = {"refs": refs} if refs else {"at_mm": draw(POINTS), "rotation_deg": draw(COORDINATES)}
    return LedGroup(
        **placed,
        side=draw(st.sampled_from(["front", "back"])),
        part=draw(NAMES),
        mounting=draw(st.sampled_from(["lens_down", "side_view", "top_view"])),
        window=draw(optional(NAMES)),
        current_ma=draw(st.floats(0, 1000)),
        diffuser=draw(st.sampled_from(["none", "hot-glue"])),
        gap_mm=draw(optional(st.floats(0, 10))),
    )


@st.composite
def designs(draw):
    refs = draw(st.lists(NAMES, unique=True, max_size=5))
    names = draw(st.lists(NAMES, unique=True, max_size=3))
    board = BoardDesign(
        fabrication=draw(st.text(SIGNS, max_size=8)),
        placement=draw(optional(NAMES)),
        thickness_mm=draw(st.floats(0.2, 6.4)),
        layers=draw(st.dictionaries(st.sampled_from(["outline", "mask_front"]), NAMES, max_size=2)),
        masked_windows=draw(st.booleans()),
        back_cover=draw(
            optional(st.builds(BackCover, distance_mm=POSITIVE, reflectance=FRACTIONS)),
        ),
    )
    groups = [draw(leds(refs=(ref,))) for ref in refs] + [draw(leds(refs=())) for _ in range(draw(st.integers(0, 2)))]
    return Design(
        name=draw(NAMES),
        board=board,
        led=tuple(draw(st.permutations(groups))),
        window=tuple(WindowDesign(name=name, at_mm=draw(POINTS)) for name in names),
        supply=draw(
            optional(st.builds(Supply, kind=st.sampled_from(["usb", "battery"]), voltage_v=optional(POSITIVE)))
        ),
        view=View(distance_mm=draw(st.floats(50, 1e5)), ambient_lx=draw(st.floats(0, 1e5))),
        goals=Goals(evenness_min=draw(optional(FRACTIONS)), bleed_max=draw(optional(FRACTIONS))),
        run=Run(quantity=draw(st.integers(1, 10_000_000))),
    )


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(design=designs())
def test_what_is_written_new_reads_back_the_same(tmp_path_factory, design):
    path = tmp_path_factory.mktemp("new") / "design.toml"
    write_design(design, path)
    assert read_design(path) == design


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(first=designs(), second=designs())
def test_what_is_written_over_another_design_reads_back_the_same(tmp_path_factory, first, second):
    path = tmp_path_factory.mktemp("over") / "design.toml"
    write_design(first, path)
    write_design(second, path)
    assert read_design(path) == second


COMMENTED = """# The harbour board, second try
name = "harbour"

[board]
fabrication = "fab/"   # from the script
thickness_mm = 1.6

# The lantern is amber
[[led]]
refs = ["D1"]
part = "sv-1204-amber"  # the dear one
mounting = "side_view"
current_ma = 2  # tried 5: too bright

# The buoy
[[led]]
refs = ["D2"]
part = "tv-0603-red"
mounting = "lens_down"
current_ma = 1.0

[view]
distance_mm = 400  # arm's length
"""


@pytest.fixture
def commented(tmp_path):
    path = tmp_path / "design.toml"
    path.write_text(COMMENTED, encoding="utf-8")
    return path


def test_writing_the_same_design_changes_no_byte(commented):
    write_design(read_design(commented), commented)
    assert commented.read_text(encoding="utf-8") == COMMENTED


def test_a_changed_current_keeps_every_comment(commented):
    design = read_design(commented)
    lantern = design.led[0].model_copy(update={"current_ma": 3.5})
    changed = design.model_copy(update={"led": (lantern, design.led[1])})
    write_design(changed, commented)
    assert read_design(commented) == changed
    expected = COMMENTED.replace("current_ma = 2  # tried", "current_ma = 3.5  # tried")
    assert commented.read_text(encoding="utf-8") == expected


def test_removing_an_led_leaves_the_comments_of_the_other(commented):
    design = read_design(commented)
    write_design(design.model_copy(update={"led": design.led[1:]}), commented)
    text = commented.read_text(encoding="utf-8")
    assert read_design(commented).led == design.led[1:]
    assert "the dear one" not in text
    assert "# from the script" in text
    assert "# arm's length" in text


def test_defaults_are_not_written_into_a_new_file(tmp_path):
    design = Design(name="plain", board=BoardDesign(fabrication="fab/"))
    path = write_design(design, tmp_path)
    assert path == tmp_path / "design.toml"
    assert tomlkit.parse(path.read_text(encoding="utf-8")).unwrap() == {
        "name": "plain",
        "board": {"fabrication": "fab/"},
    }


def test_a_failed_write_leaves_the_old_file_and_nothing_else(commented, monkeypatch):
    design = read_design(commented)

    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(DesignError, match="cannot be written: No space left on device"):
        write_design(design.model_copy(update={"name": "other"}), commented)
    assert commented.read_text(encoding="utf-8") == COMMENTED
    assert [file.name for file in commented.parent.iterdir()] == ["design.toml"]


def test_a_design_that_contradicts_itself_is_not_written(tmp_path):
    twice = WindowDesign(name="a", at_mm=(0.0, 0.0))
    design = Design(name="x", board=BoardDesign(fabrication="fab/"), window=(twice, twice))
    with pytest.raises(DesignError, match="already used"):
        write_design(design, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_writing_over_what_is_not_toml_is_refused(tmp_path):
    path = tmp_path / "design.toml"
    path.write_text("name = \n", encoding="utf-8")
    with pytest.raises(DesignError, match="line 1: is not TOML"):
        write_design(Design(name="x", board=BoardDesign(fabrication="fab/")), path)


def test_writing_into_a_missing_folder_is_refused(tmp_path):
    with pytest.raises(DesignError, match="cannot be written"):
        write_design(Design(name="x", board=BoardDesign(fabrication="fab/")), tmp_path / "none" / "design.toml")


LED_LINE = 'at_mm = [1, 2], part = "p", mounting = "reverse", current_ma = 1'


@pytest.mark.parametrize(
    "text",
    [
        f'led = [{{ {LED_LINE} }}]\nname = "x"\n[board]\nfabrication = "f"\n',
        'name = "x"\nboard = { fabrication = "f" } # c\n',
        'name = "x"\nboard.fabrication = "f"\nboard.back_cover.distance_mm = 1\nboard.back_cover.reflectance = 0.5\n',
        'name = "x"\n[board]\nfabrication = "f"\n[view]\nambient_lx = 2\n[board.layers]\noutline = "o"\n',
        'name = "x"\n[board.layers]\noutline = "o"\n[view]\n[board]\nfabrication = "f"\n',
        'name = "x"\n[[window]]\nname = "a"\nat_mm = [0, 0]\n[board]\nfabrication = "f"\n',
    ],
    ids=["inline array", "inline table", "dotted keys", "split table", "late table", "array first"],
)
def test_every_way_to_write_a_table_in_toml_can_be_changed(tmp_path, text):
    path = tmp_path / "design.toml"
    path.write_text(text, encoding="utf-8")
    design = read_design(path)
    changed = design.model_copy(
        update={
            "board": design.board.model_copy(update={"thickness_mm": 2.0, "mask": "white", "back_cover": None}),
            "led": (*design.led, LedGroup(refs=("Q1",), part="z", mounting="cutout", current_ma=3.0)),
            "window": (*design.window, WindowDesign(name="n", at_mm=(1.0, 2.0))),
            "view": View(),
            "goals": Goals(evenness_min=0.5),
        }
    )
    write_design(changed, path)
    assert read_design(path) == changed
    write_design(design, path)
    assert read_design(path) == design
