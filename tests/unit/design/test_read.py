# ruff: noqa: E501  one mistake and the line it earns stand side by side
"""design.toml in: what is right is read whole, what is wrong is told in one line with its place."""

import pytest

from paneglow.design import Design, read_design
from paneglow.errors import DesignError

GOOD = """
name = "harbour"
[board]
fabrication = "fab/"
thickness_mm = 1
layers = { copper_front = "top.gbr" }
back_cover = { distance_mm = 4.0, reflectance = 0.8 }
[[led]]
refs = ["D1", "D2"]
part = "sv-1204-amber"
mounting = "side_view"
window = "lantern"
current_ma = 2
[[led]]
at_mm = [-3, 4.5]
rotation_deg = -90
part = "tv-0603-red"
mounting = "lens_down"
current_ma = 0.5
[[window]]
name = "lantern"
at_mm = [12.4, 30.1]
[supply]
kind = "coin-cell"
"""


def problems_of(tmp_path, text):
    (tmp_path / "design.toml").write_text(text, encoding="utf-8")
    with pytest.raises(DesignError) as caught:
        read_design(tmp_path)
    lines = str(caught.value).splitlines()
    prefix = f"{tmp_path / 'design.toml'}: "
    assert all(line.startswith(prefix) for line in lines)
    return [line.removeprefix(prefix) for line in lines]


def with_change(old, new):
    assert GOOD.count(old) == 1
    return GOOD.replace(old, new)


@pytest.mark.parametrize("named", ["folder", "file"])
def test_good_design_is_read_from_its_folder_or_its_file(tmp_path, named):
    file = tmp_path / "design.toml"
    file.write_text(GOOD, encoding="utf-8")
    design = read_design(tmp_path if named == "folder" else file)
    assert isinstance(design, Design)
    assert design.board.thickness_mm == 1.0
    assert design.board.layers == {"copper_front": "top.gbr"}
    assert [led.refs for led in design.led] == [("D1", "D2"), ()]
    assert design.led[1].at_mm == (-3.0, 4.5)
    assert design.view.distance_mm == 400.0


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        (with_change("thickness_mm = 1\n", "thickness_mm = -1.6\n"), "[board] thickness_mm: is -1.6; allowed is at least 0.2"),
        (with_change("thickness_mm = 1\n", "thickness_mm = 3000\n"), "[board] thickness_mm: is 3000; allowed is at most 6.4"),
        (with_change("thickness_mm = 1\n", "thickness_mm = nan\n"), "[board] thickness_mm: is nan; a finite number is needed"),
        (with_change("current_ma = 2", "current_ma = inf"), "[[led]] 1, current_ma: is inf; a finite number is needed"),
        (with_change("current_ma = 0.5", "current_ma = -0.5"), "[[led]] 2, current_ma: is -0.5; allowed is at least 0"),
        (with_change("current_ma = 0.5", 'current_ma = "0.5"'), "[[led]] 2, current_ma: is '0.5'; a number is needed"),
        (with_change("current_ma = 0.5", "current_ma = true"), "[[led]] 2, current_ma: is true; a number is needed"),
        (with_change("current_ma = 0.5", "curent_ma = 0.5\ncurrent_ma = 1"), "[[led]] 2: unknown key 'curent_ma'; the nearest known one is current_ma"),
        (with_change("[supply]", "[suply]"), "unknown key 'suply'; the nearest known one is supply"),
        (with_change("reflectance = 0.8", "reflectance = 0.8, colr = 1"), "[board.back_cover]: unknown key 'colr'; known are distance_mm, reflectance"),
        (with_change("copper_front =", "coper_front ="), "[board.layers]: unknown key 'coper_front'; the nearest known one is copper_front"),
        (with_change("reflectance = 0.8", "reflectance = 80"), "[board.back_cover] reflectance: is 80; allowed is at most 1"),
        (with_change('fabrication = "fab/"\n', ""), "[board] fabrication: is missing; it must be given"),
        (with_change('kind = "coin-cell"', 'kind = "coincell"'), "[supply] kind: is 'coincell'; allowed are coin-cell, battery, usb, regulated (did you mean coin-cell?)"),
        (with_change("at_mm = [-3, 4.5]", "at_mm = [-3, nan]"), "[[led]] 2, at_mm item 2: is nan; a finite number is needed"),
        (with_change("at_mm = [-3, 4.5]", "at_mm = [-3]"), "[[led]] 2, at_mm item 2: is missing; one more number is needed"),
        (with_change("at_mm = [-3, 4.5]", "at_mm = [-3, 4, 5]"), "[[led]] 2, at_mm: has 3 items; allowed are 2"),
        (with_change("at_mm = [-3, 4.5]", "at_mm = 3"), "[[led]] 2, at_mm: is 3; a list in square brackets is needed"),
        (with_change('name = "harbour"', 'name = ""'), "name: is ''; allowed is text of at least 1 characters"),
        (with_change("at_mm = [-3, 4.5]\n", ""), "[[led]] 2: has neither refs nor at_mm; give refs of the placement file or at_mm = [x, y]"),
        (with_change("at_mm = [-3, 4.5]\n", 'at_mm = [-3, 4.5]\nrefs = ["D3"]\n'), "[[led]] 2: has both refs and at_mm; keep refs (from the placement file) or at_mm, not both"),
        (with_change("at_mm = [-3, 4.5]\n", 'refs = ["D2"]\n'), "[[led]] 2: ref 'D2' is already used in [[led]] 1; each may stand once"),
        (GOOD + '[[window]]\nname = "lantern"\nat_mm = [1, 2]\n', "[[window]] 2: window name 'lantern' is already used in [[window]] 1; each may stand once"),
        (GOOD + "[run]\nquantity = 0\n", "[run] quantity: is 0; allowed is at least 1"),
        (GOOD + "[run]\nquantity = 2.5\n", "[run] quantity: is 2.5; a whole number is needed"),
        ("led = 3\n" + GOOD.split("[[led]]", maxsplit=1)[0], "led: is 3; a list in square brackets is needed"),
        ("goals = 3\n" + GOOD, "goals: is 3; a table is needed"),
    ],
)  # fmt: skip
def test_one_mistake_is_one_line_with_its_place(tmp_path, text, problem):
    assert problems_of(tmp_path, text) == [problem]


def test_all_mistakes_are_told_at_once(tmp_path):
    text = GOOD.replace("current_ma = 2\n", "current_ma = -2\n").replace('refs = ["D1", "D2"]', 'refs = ["D1", "D1"]')
    text = text.replace("[supply]", "[suply]")
    assert problems_of(tmp_path, text) == [
        "[[led]] 1, current_ma: is -2; allowed is at least 0",
        "unknown key 'suply'; the nearest known one is supply",
        "[[led]] 1: ref 'D1' is already used in [[led]] 1; each may stand once",
    ]


@pytest.mark.parametrize(
    ("text", "start"),
    [
        ('name = "a"\nboard = \n', "2: is not TOML: invalid value"),
        ('name = "a"\nname = "b"\n', "2: is not TOML: cannot overwrite a value"),
        ('name = "a', "1: is not TOML: unterminated string"),
    ],
)
def test_what_is_not_toml_is_told_with_its_line(tmp_path, text, start):
    file = tmp_path / "design.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(DesignError) as caught:
        read_design(file)
    assert str(caught.value).startswith(f"{file}, line {start}")
    assert "\n" not in str(caught.value)


def test_missing_file_binary_file_and_nested_bomb_are_refused(tmp_path):
    with pytest.raises(DesignError, match="there is no such file"):
        read_design(tmp_path)
    file = tmp_path / "design.toml"
    file.write_bytes(b"name = \xff\xfe")
    with pytest.raises(DesignError, match="is not UTF-8 text"):
        read_design(file)
    file.write_text("a = " + "[" * 20_000, encoding="utf-8")
    with pytest.raises(DesignError, match="nested too deeply"):
        read_design(file)
    file.write_text("#" * 4_000_001, encoding="utf-8")
    with pytest.raises(DesignError, match="allowed are 4000000"):
        read_design(file)


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("thickness_mm = 1\n", "thickness_mm = 1,6\n", "line 5: 1,6 has a decimal comma; write it with a point: 1.6"),
        (
            'fabrication = "fab/"',
            'fabrication = "C:\\Users\\me"',
            "line 4: a backslash in \"double quotes\" does not stand for itself; write paths with / or in 'single quotes'",
        ),
    ],
)
def test_decimal_commas_and_backslashes_are_named_in_words(tmp_path, old, new, line):
    file = tmp_path / "design.toml"
    file.write_text(with_change(old, new), encoding="utf-8")
    with pytest.raises(DesignError) as caught:
        read_design(file)
    assert str(caught.value) == f"{file}, {line}"


def test_a_backslash_that_toml_swallowed_is_found_in_what_it_left(tmp_path):
    # \\f is a form feed in TOML, so the file reads without a complaint and names another folder
    (line,) = problems_of(tmp_path, with_change('fabrication = "fab/"', 'fabrication = "boards\\fab"'))
    assert line.startswith("[board] fabrication: holds the unseen sign U+000C; take it out; a backslash in")


@pytest.mark.parametrize("sign", ["\\u0007", "\\n", "\\u202e", "\\u2028"])
def test_no_name_holds_what_nobody_sees(tmp_path, sign):
    (line,) = problems_of(tmp_path, with_change('name = "harbour"', f'name = "har{sign}bour"'))
    assert line.startswith("name: holds the unseen sign U+")


@pytest.mark.parametrize(
    ("old", "new", "meant"),
    [
        ("thickness_mm = 1\n", "thickness = 1\n", "thickness_mm"),
        ("thickness_mm = 1\n", 'soldermask = "white"\n', "mask"),
        ("thickness_mm = 1\n", 'silkscreen = "black-legend"\n', "legend"),
        ("current_ma = 2\n", "current = 2\n", "current_ma"),
        ('refs = ["D1", "D2"]', 'designators = ["D1", "D2"]', "refs"),
        ('refs = ["D1", "D2"]', 'references = ["D1", "D2"]', "refs"),
    ],
)
def test_an_unknown_key_is_answered_by_what_is_meant(tmp_path, old, new, meant):
    assert any(f"the nearest known one is {meant}" in line for line in problems_of(tmp_path, with_change(old, new)))


def test_a_style_in_other_words_is_understood_as_a_question(tmp_path):
    lines = problems_of(tmp_path, with_change('mounting = "lens_down"', 'mounting = "upside-down"'))
    assert any("did you mean lens_down?" in line for line in lines)


def test_a_gap_of_60_mm_is_questioned_and_a_board_behind_is_not(tmp_path):
    (line,) = problems_of(tmp_path, with_change('window = "lantern"\n', 'window = "lantern"\ngap_mm = 60\n'))
    assert line.startswith("[[led]] 1, gap_mm: is 60 mm; a side view LED stands at most 10 mm off the board")
    assert "is a point missing?" in line
    behind = with_change('mounting = "side_view"', 'mounting = "carrier"\ngap_mm = 25')
    (tmp_path / "design.toml").write_text(behind, encoding="utf-8")
    assert read_design(tmp_path).led[0].gap_mm == 25
