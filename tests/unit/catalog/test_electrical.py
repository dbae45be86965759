"""Electrical values of parts: from their colour, from the part they are like, from the printed curve."""

import pytest

from paneglow.catalog import read_catalog
from paneglow.errors import CatalogError

PRINTED = """
[part.electrical.forward_curve]
current_ma = [1, 5, 20]
voltage_v = [2.65, 2.8, 3.1]
origin = "sourced"
source = "data sheet, figure 2"
"""


def read_own(folder, text):
    (folder / "own.toml").write_text(text, encoding="utf-8")
    return read_catalog(user_parts=folder).parts


def test_a_printed_curve_is_laid_over_what_the_part_is_like(tmp_path):
    parts = read_own(tmp_path, '[[part]]\ncode = "my-blue"\nlike = "tv-0603-blue"\n' + PRINTED)
    own, usual = parts["my-blue"].electrical, parts["tv-0603-blue"].electrical
    assert own.forward_curve.current_ma == (1, 5, 20)
    assert own.model_copy(update={"forward_curve": None}) == usual


def test_a_part_that_says_nothing_of_itself_as_a_load_has_what_is_usual_for_its_colour(tmp_path):
    plain = read_catalog().parts["tv-0603-green"].model_dump_json(exclude={"electrical"}, exclude_none=True)
    (tmp_path / "own.toml").write_text(_as_toml(plain), encoding="utf-8")
    parts = read_catalog(user_parts=tmp_path).parts
    assert parts["my-green"].electrical == parts["tv-0603-green"].electrical


def test_points_that_fall_back_are_told_with_their_place(tmp_path):
    text = '[[part]]\ncode = "my-blue"\nlike = "tv-0603-blue"\n' + PRINTED.replace("[1, 5, 20]", "[5, 1, 20]")
    with pytest.raises(CatalogError, match="current_ma must rise"):
        read_own(tmp_path, text)


def _as_toml(text):
    import json

    import tomlkit

    table = json.loads(text) | {"code": "my-green"}
    return tomlkit.dumps({"part": [table]})
