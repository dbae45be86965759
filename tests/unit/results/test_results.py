"""results.json: complete, free of NaN, and as its published schema says."""

import json
import math
from pathlib import Path

import jsonschema
import pytest

from paneglow.results import Results, build_results, build_survey_results, to_json
from paneglow.units import Quantity
from sample_board import make_board, make_catalog
from sample_evaluation import make_evaluation

SCHEMA_PATH = Path(__file__).parents[3] / "docs" / "results.schema.json"


@pytest.fixture(scope="module")
def results() -> Results:
    return build_results(make_evaluation())


def refuse_constant(word: str) -> float:
    raise AssertionError(f"{word} is not JSON")


def test_the_written_file_is_valid_by_the_published_schema(results):
    schema = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(json.loads(to_json(results)), schema, cls=jsonschema.Draft202012Validator)


def test_the_written_file_is_strict_json_and_reads_back_whole(results):
    text = to_json(results)
    json.loads(text, parse_constant=refuse_constant)
    # Numbers are shortened once; what is read back writes the same text
    assert to_json(Results.model_validate_json(text)) == text


def test_a_number_that_is_not_finite_cannot_enter_a_result():
    evaluation = make_evaluation()
    emitter = evaluation.scene.emitters[0]
    object.__setattr__(emitter, "flux_lm", math.nan)
    with pytest.raises(ValueError, match="finite"):
        build_results(evaluation)


def test_every_window_led_and_slab_version_is_told(results):
    evaluation = make_evaluation()
    assert [window.name for window in results.windows] == [window.name for window in results.board.windows]
    assert [led.ref for led in results.leds] == [led.ref for led in evaluation.board.leds]
    assert [slab.name for slab in results.slabs] == [slab.name for slab in evaluation.scene.slabs]


def test_fates_of_the_nominal_laminate_sum_to_one_and_carry_the_range_of_all_versions(results):
    fates = results.leds[0].fates
    values = [getattr(fates, name) for name in type(fates).model_fields]
    assert sum(share.value for share in values) == pytest.approx(1.0, abs=1e-12)
    assert (fates.front.low, fates.front.value, fates.front.high) == (0.03, 0.06, 0.11)  # as put into the sample


def test_every_quantity_of_every_used_part_is_listed_with_its_origin(results):
    for part in {led.part.code: led.part for led in make_board(make_catalog()).leds}.values():
        listed = [value for value in results.quantities if value.item == part.code]
        stated = [getattr(part, name) for name in type(part).model_fields]
        quantities = [value for value in stated if isinstance(value, Quantity)]
        for quantity in quantities:
            assert any(
                (value.value, value.low, value.high, value.origin, value.source)
                == (quantity.value, quantity.lowest, quantity.highest, quantity.origin, quantity.source)
                for value in listed
            )


def test_absorption_is_listed_per_wavelength_with_the_range_of_its_factors(results):
    rows = [value for value in results.quantities if value.quantity == "absorption"]
    assert [row.at_nm for row in rows] == [465.0, 525.0, 590.0, 625.0]
    assert [row.unit for row in rows] == ["1/mm"] * 4
    assert (rows[0].low, rows[0].value, rows[0].high) == pytest.approx((0.075, 0.25, 0.75))  # 0.25 x 0.3, x 1, x 3


def test_no_part_is_listed_that_is_not_on_the_board():
    evaluation = make_evaluation()
    spare = evaluation.catalog.parts["sv-1204-red"].model_copy(update={"code": "spare-part"})
    evaluation.catalog.parts["spare-part"] = spare
    assert "spare-part" not in {value.item for value in build_results(evaluation).quantities}


def test_windows_json_has_the_promised_keys():
    data = json.loads(to_json(build_survey_results(make_board(make_catalog()).survey)))
    assert {"outline_area_mm2", "copper_layers", "windows"} <= data.keys()
    promised = {"name", "area_mm2", "bbox_mm", "centre_mm", "front", "back"}
    assert all(promised <= window.keys() for window in data["windows"])
    assert {window["front"]["state"] for window in data["windows"]} == {"bare"}
    assert data["windows"][-1]["back"]["state"] == "mixed"
