"""A file is a layer by its attribute, then its name, then the design's word; what is unclear is asked for by name."""

import itertools
import random

import pytest

from paneglow.errors import FabricationError
from paneglow.fab.archive import SetFile
from paneglow.fab.layer_words import hint_by_words, to_words
from paneglow.fab.layers import LayerPlan, build_layer_plan
from tiny_sets import LANDS, drill, layer, tiny_set

ROLES_AND_FUNCTIONS = {
    "copper_front": "Copper,L1,Top",
    "copper_back": "Copper,L2,Bot",
    "mask_front": "Soldermask,Top",
    "mask_back": "Soldermask,Bot",
    "legend_front": "Legend,Top",
    "legend_back": "Legend,Bot",
    "outline": "Profile,NP",
}


def files(texts: dict[str, str]) -> list[SetFile]:
    return [SetFile(name=name, content=text.encode()) for name, text in texts.items()]


def plan(texts: dict[str, str], **layer_files: str) -> LayerPlan:
    return build_layer_plan(files(texts), layer_files=layer_files)


def roles(texts: dict[str, str], **layer_files: str) -> dict[str, str]:
    return {file.name: file.role for file in plan(texts, **layer_files).files}


def named(*names: str) -> dict[str, str]:
    """Gerber files without attributes, every one with its own content."""
    return {name: layer(LANDS, pen_mm=1.0 + number / 100) for number, name in enumerate(names, start=1)}


@pytest.mark.parametrize(
    "style", ["%TF.FileFunction,{}*%", "G04 #@! TF.FileFunction,{}*", "G04#@! TF.FileFunction,{}*"]
)
def test_attributes_hold_whatever_the_names(style: str) -> None:
    texts = {
        f"file{number}.gbr": style.format(function) + "\n" + layer()
        for number, function in enumerate(ROLES_AND_FUNCTIONS.values())
    }
    found = roles(texts)
    assert list(found.values()) == list(ROLES_AND_FUNCTIONS)
    assert {file.how_known for file in plan(texts).files} == {"attribute"}


def test_attribute_wins_over_the_name_and_says_so() -> None:
    texts = {
        f"a.{function[:4]}{number}": layer(function=function)
        for number, function in enumerate(ROLES_AND_FUNCTIONS.values())
    }
    texts["swapped.gtl"] = texts.pop("a.Copp1")
    found = {file.name: file for file in plan(texts).files}
    assert found["swapped.gtl"].role == "copper_back"
    assert "its name suggests copper_front" in found["swapped.gtl"].note


NAMING_HABITS = [
    ("b.gtl", "b.gbl", "b.gts", "b.gbs", "b.gto", "b.gbo", "b.gko"),
    ("B.GTL", "B.GBL", "B.GTS", "B.GBS", "B.GTO", "B.GBO", "B.GM1"),
    (".gtl", ".gbl", ".gts", ".gbs", ".gto", ".gbo", ".gml"),
    ("x-F_Cu.gbr", "x-B_Cu.gbr", "x-F_Mask.gbr", "x-B_Mask.gbr", "x-F_SilkS.gbr", "x-B_SilkS.gbr", "x-Edge_Cuts.gbr"),
    ("x-F.Cu.gbr", "x-B.Cu.gbr", "x-F.Mask.gbr", "x-B.Mask.gbr", "x-F.SilkS.gbr", "x-B.SilkS.gbr", "x-Edge.Cuts.gbr"),
    ("CuTop.gbr", "CuBottom.gbr", "MaskTop.gbr", "MaskBottom.gbr", "SilkTop.gbr", "SilkBottom.gbr", "EdgeCuts.gbr"),
    (
        "copper_top.gbr",
        "copper_bottom.gbr",
        "soldermask_top.gbr",
        "soldermask_bottom.gbr",
        "silkscreen_top.gbr",
        "silkscreen_bottom.gbr",
        "profile.gbr",
    ),
    (
        "p.toplayer.ger",
        "p.bottomlayer.ger",
        "p.topsoldermask.ger",
        "p.bottomsoldermask.ger",
        "p.topsilkscreen.ger",
        "p.bottomsilkscreen.ger",
        "p.boardoutline.ger",
    ),
    (
        "r1_top_conductor.ger",
        "r1_bottom_conductor.ger",
        "r1_top_soldermask.gts",
        "r1_bottom_soldermask.gbs",
        "r1_top_silkscreen.gto",
        "r1_bottom_silkscreen.gbo",
        "r1_outline.gbr",
    ),
    (
        "Front Copper.art",
        "Back Copper.art",
        "Front Solder Mask.art",
        "Back Solder Mask.art",
        "Front Legend.art",
        "Back Legend.art",
        "Board Outline.art",
    ),
]


@pytest.mark.parametrize("names", NAMING_HABITS)
def test_common_names_settle_a_set(names: tuple[str, ...]) -> None:
    assert roles(named(*names)) == dict(zip(names, ROLES_AND_FUNCTIONS, strict=True))


def test_words_that_name_the_project_are_no_layer_words() -> None:
    names = ("copper mask-F_Cu.gbr", "copper mask-B_Cu.gbr", "copper mask-F_Mask.gbr", "copper mask-B_Mask.gbr")
    found = roles(named(*names, "copper mask-Edge_Cuts.gbr"))
    assert [found[name] for name in names] == ["copper_front", "copper_back", "mask_front", "mask_back"]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("BottomPasteMaskLayer.x", ("bottom", "paste", "mask", "layer")),
        ("topaz-v2.gbr", ("topaz", "v", "2")),
        ("In1_Cu.g2", ("in", "1", "cu")),
        ("ReadOnly.Mechanical", ("read", "only", "mechanical")),
        ("bottomsoldermask.ger", ("bottom", "soldermask")),
    ],
)
def test_names_come_apart_into_words(name: str, words: tuple[str, ...]) -> None:
    assert to_words(name) == words


@pytest.mark.parametrize(
    "name",
    [
        "VScore.gbr",
        "V_Cut.gbr",
        "top_paste.gbr",
        "x.gtp",
        "PTH-drl_map.gbr",
        "documentation.ger",
        "x.gm7",
        "a.Mechanical",
    ],
)
def test_scoring_paste_maps_and_drawings_are_ignored_with_a_reason(name: str) -> None:
    found = {file.name: file for file in plan({**tiny_set(), **named(name)}).files}
    assert found[name].role == "ignored"
    assert found[name].note


@pytest.mark.parametrize("function", ["Drillmap", "Other,Comment", "Vcut,Top", "Paste,Top", "AssemblyDrawing,Top"])
def test_functions_that_are_no_layer_are_ignored_by_attribute(function: str) -> None:
    found = {file.name: file for file in plan({**tiny_set(), "b.gbr": layer(function=function)}).files}
    assert (found["b.gbr"].role, found["b.gbr"].how_known, found["b.gbr"].note) == ("ignored", "attribute", function)


def test_reports_and_drawings_beside_the_layers_are_ignored() -> None:
    texts = {**tiny_set(), "parts.csv": "Designator,Mid X\n", "read me.txt": "hello", "job.gbrjob": "{}"}
    binary = SetFile(name="map.pdf", content=b"%PDF-1.5\x00")
    found = {file.name: file.role for file in build_layer_plan([*files(texts), binary], layer_files={}).files}
    assert {found[name] for name in ("parts.csv", "read me.txt", "job.gbrjob", "map.pdf")} == {"ignored"}


def test_drill_file_is_known_by_content_under_any_name() -> None:
    found = {file.name: file for file in plan(tiny_set(drl=None, txt=drill("X1.0Y1.0"))).files}
    assert (found["tile.txt"].role, found["tile.txt"].how_known) == ("drill", "content")


def test_drill_drawn_as_gerber_is_a_drill_file_and_its_map_is_not() -> None:
    texts = {
        **tiny_set(drl=None),
        "a.gbr": layer(LANDS, function="Plated,1,2,PTH"),
        "b.gbr": layer(LANDS, function="Other,Drillmap"),
    }
    assert roles(texts)["a.gbr"] == "drill"
    assert roles(texts)["b.gbr"] == "ignored"


@pytest.mark.parametrize(
    "inner",
    [
        {"a-In1_Cu.g2": "Copper,L2,Inr", "a-In2_Cu.g3": "Copper,L3,Inr"},
        {"y.gbr": "Copper,L2,Inr", "x.gbr": "Copper,L3,Inr"},
        {"a.g1": "", "a.g2": ""},
        {"a.G3": "", "a.G10": ""},
        {"a-In1_Cu.gbr": "", "a-In2_Cu.gbr": ""},
        {"a inner layer 2.gbr": "", "a inner layer 3.gbr": ""},
        {"a_L2.gbr": "", "a_L3.gbr": ""},
    ],
)
def test_inner_copper_is_numbered_from_the_front(inner: dict[str, str]) -> None:
    texts = {**tiny_set(), **{name: layer(LANDS, function=function) for name, function in inner.items()}}
    found = roles(texts)
    assert [found[name] for name in inner] == ["copper_inner_1", "copper_inner_2"]
    assert plan(texts).copper_layers == 4


def test_attribute_that_counts_more_layers_than_there_are_is_an_error() -> None:
    changes = {"gtl": layer(LANDS, function="Copper,L1,Top"), "gbl": layer(LANDS, function="Copper,L4,Bot")}
    with pytest.raises(FabricationError, match="count 4 copper layers, but no file draws L2, L3"):
        plan(tiny_set(**changes))


def test_two_candidates_are_asked_for_by_name() -> None:
    texts = {**tiny_set(), **named("a-F_Mask.gbr")}
    with pytest.raises(FabricationError) as caught:
        plan(texts)
    assert str(caught.value) == (
        "2 files could be mask_front: a-F_Mask.gbr and tile.gts; in [board.layers] of the design (or as --layer"
        ' ROLE=FILE) write mask_front = "a-F_Mask.gbr"; name what is no layer in [board] ignored_files = ["tile.gts"]'
        " (or as --ignore FILE)"
    )
    assert roles(texts, mask_front="tile.gts")["a-F_Mask.gbr"] == "ignored"


def test_equal_copies_are_one_layer() -> None:
    texts = tiny_set()
    texts["copy-F_Mask.gbr"] = texts["tile.gts"]
    assert sorted(role for role in roles(texts).values() if role == "mask_front") == ["mask_front"]


def test_file_that_looks_like_a_layer_is_asked_for() -> None:
    with pytest.raises(
        FabricationError, match=r"art.gbr looks like a layer.*mask_front = \"art.gbr\".*ignored_files = \[\"art.gbr\"\]"
    ):
        plan({**tiny_set(), **named("art.gbr")})


def test_all_that_is_open_is_asked_for_at_once() -> None:
    texts = {**tiny_set(gbl=None), **named("a-F_Mask.gbr", "creme one.gbr", "creme two.gbr")}
    with pytest.raises(FabricationError) as caught:
        plan(texts)
    said = str(caught.value)
    for words in (
        "2 files could be mask_front: a-F_Mask.gbr and tile.gts",
        "creme one.gbr and creme two.gbr look like layers",
        "has no file for copper_back",
        'ignored_files = ["tile.gts", "creme one.gbr", "creme two.gbr"]',
        'copper_back = "its file name"',
    ):
        assert words in said
    assert "\n" not in said


def test_file_ignored_by_name_is_no_layer_whatever_it_holds() -> None:
    texts = {**tiny_set(), **named("creme one.gbr", "a-F_Mask.gbr")}
    files = [SetFile(name=name, content=text.encode()) for name, text in texts.items()]
    found = build_layer_plan(files, layer_files={}, ignored=("creme one.gbr", "a-F_Mask.gbr"))
    assert found.layers["mask_front"].name == "tile.gts"
    assert {file.name: file.role for file in found.files}["creme one.gbr"] == "ignored"
    with pytest.raises(FabricationError, match="ignored_files = 'creme.gbr' is not in the set; there are a-F_Mask.gbr"):
        build_layer_plan(files, layer_files={}, ignored=("creme.gbr",))


def test_name_that_contradicts_its_ending_is_asked_for() -> None:
    with pytest.raises(FabricationError, match="its ending says copper_front, its words say copper_back"):
        plan({**tiny_set(gtl=None), **named("bottom copper.gtl")})


@pytest.mark.parametrize("missing", ["gtl", "gbl", "gts", "gbs"])
def test_missing_layer_is_asked_for(missing: str) -> None:
    role = {"gtl": "copper_front", "gbl": "copper_back", "gts": "mask_front", "gbs": "mask_back"}[missing]
    with pytest.raises(FabricationError, match=f'has no file for {role} ."none" where.*{role} = "its file name"'):
        plan(tiny_set(**{missing: None}))
    told = plan(tiny_set(**{missing: None}), **{role: "none"})
    assert role not in told.layers
    assert any(note.startswith(f"{role}: the design says the board has none") for note in told.notes)


def test_board_with_one_copper_layer_counts_one() -> None:
    assert plan(tiny_set(gbl=None), copper_back="none").copper_layers == 1


def test_missing_outline_is_asked_for() -> None:
    with pytest.raises(FabricationError, match='has no file for outline.*outline = "its file name"'):
        plan(tiny_set(gko=None))


@pytest.mark.parametrize(
    ("layer_files", "message"),
    [
        ({"mask_top": "tile.gts"}, "names the layer 'mask_top'; allowed are copper_front"),
        ({"mask_front": "tile.xyz"}, "is not in the set; there are note.txt, tile.drl, "),
        ({"mask_front": "tile.gts", "mask_back": "tile.gts"}, "gives tile.gts to both mask_front and mask_back"),
        ({"mask_front": "note.txt"}, "no Gerber or drill file"),
    ],
)
def test_design_that_names_what_cannot_be_is_an_error(layer_files: dict[str, str], message: str) -> None:
    with pytest.raises(FabricationError, match=message):
        plan({**tiny_set(), "note.txt": "hello"}, **layer_files)


def test_design_settles_every_role() -> None:
    texts = named("1.gbr", "2.gbr", "3.gbr", "4.gbr", "5.gbr", "6.gbr")
    told = plan(
        texts,
        copper_front="1.gbr",
        copper_back="2.gbr",
        mask_front="3.gbr",
        mask_back="4.gbr",
        outline="5.gbr",
        copper_inner_1="6.gbr",
    )
    assert told.copper_layers == 3
    assert {file.how_known for file in told.files} == {"design"}


@pytest.mark.parametrize("ending", ["gtl", "drl"])
@pytest.mark.parametrize("text", ["", "<html>not found</html>"])
def test_layer_without_content_is_an_error(ending: str, text: str) -> None:
    with pytest.raises(FabricationError, match=f"tile.{ending} has the name of a "):
        plan(tiny_set(**{ending: text}))


def test_copper_drawn_in_negative_is_an_error() -> None:
    with pytest.raises(FabricationError, match="FilePolarity Negative.*export copper layers as positive"):
        plan(tiny_set(gtl=layer(LANDS, function="Copper,L1,Top", negative=True)))


def test_mask_that_says_positive_is_taken_for_openings_and_said() -> None:
    text = layer(LANDS, function="Soldermask,Top").replace("%FS", "%TF.FilePolarity,Positive*%\n%FS")
    found = {file.name: file for file in plan(tiny_set(gts=text)).files}
    assert found["tile.gts"].role == "mask_front"
    assert "FilePolarity Positive" in found["tile.gts"].note


def test_word_that_may_name_a_project_does_not_hide_a_layer() -> None:
    texts = {**tiny_set(), **named("fab In1 Cu.gbr")}
    with pytest.raises(FabricationError, match="fab In1 Cu.gbr looks like a layer"):
        plan(texts)
    assert roles({**tiny_set(), **named("F_Fab.gbr")})["F_Fab.gbr"] == "ignored"


def test_no_gerber_at_all_is_an_error() -> None:
    with pytest.raises(FabricationError, match="holds no Gerber file"):
        plan({"a.txt": "hello"})


def test_order_of_files_does_not_matter() -> None:
    texts = {**tiny_set(), **named("x.g1", "x.g2", "top_paste.gbr")}
    expected = plan(texts).files
    shuffler = random.Random(1)
    for _ in range(20):
        names = list(texts)
        shuffler.shuffle(names)
        assert plan({name: texts[name] for name in names}).files == expected


def test_every_pair_of_side_and_kind_words_names_one_layer() -> None:
    for side, kind in itertools.product(("top", "bottom", "front", "back"), ("copper", "mask", "silkscreen")):
        hints = [hint_by_words((side, kind)), hint_by_words((kind, side)), hint_by_words(to_words(f"{side}{kind}.gbr"))]
        assert len({hint.role for hint in hints if hint is not None}) == 1
        assert None not in hints
