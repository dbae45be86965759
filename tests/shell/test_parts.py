"""`paneglow parts`: what it asks, what it refuses, what it writes."""

import pytest
from typer.testing import CliRunner

from paneglow.catalog import PART_QUESTIONS, read_catalog
from paneglow.cli import app
from unit.catalog.test_questions import TYPED


def run(*arguments, typed=None):
    return CliRunner(env={"COLUMNS": "80"}).invoke(app, ["parts", *map(str, arguments)], input=typed)


def lines(**changes):
    """What a person types, line by line; questions that do not apply are not asked."""
    answers = {**TYPED, **changes}
    skipped = {"iron_contact_s", "mark_date"}
    return "".join(
        "".join(f"{line}\n" for line in answers.get(question.key, "").split("\n"))
        for question in PART_QUESTIONS
        if question.key not in skipped
    )


def test_a_part_is_asked_for_and_written_beside_the_design(tmp_path):
    shown = run("new", tmp_path, typed=lines())
    assert shown.exit_code == 0, shown.output
    part = read_catalog(user_parts=tmp_path / "parts").parts["own-amber"]
    assert part.mark_verified
    assert "unverified" not in shown.output.splitlines()[-1]
    again = run("new", tmp_path, typed=lines())
    assert again.exit_code == 2
    assert "is already there" in again.stderr


def test_a_code_with_a_slash_stays_itself_and_its_file_lies_in_the_folder(tmp_path):
    shown = run("new", tmp_path, typed=lines(code="LX-12.AB/5T"))
    assert shown.exit_code == 0, shown.output
    assert [path.name for path in (tmp_path / "parts").iterdir()] == ["LX-12.AB-5T.toml"]
    assert "LX-12.AB/5T" in read_catalog(user_parts=tmp_path / "parts").parts


def test_a_wrong_answer_is_told_and_asked_again(tmp_path):
    shown = run(
        "new", tmp_path, typed=lines(emitter_length_mm="3.4\n1.2", anode="C\nA", forward_voltage_v_high="1.9\n2.4")
    )
    assert shown.exit_code == 0, shown.output
    told = [line for line in shown.stderr.splitlines() if line.startswith("paneglow: ")]
    assert len(told) == 3
    assert "more than the body's length" in told[0]


def test_a_mark_without_evidence_is_told_to_block_release(tmp_path):
    typed = lines(mark_evidence="unverified").replace("\nunverified\n2\nthe builder\n", "\nunverified\n")
    shown = run("new", tmp_path, typed=typed)
    assert shown.exit_code == 0, shown.output
    assert "release is blocked" in shown.output


def test_answers_that_end_early_write_nothing(tmp_path):
    shown = run("new", tmp_path, typed="own-amber\nchip\n")
    assert shown.exit_code == 130
    assert not (tmp_path / "parts").exists()


def test_a_table_goes_out_and_comes_in_again(tmp_path):
    run("new", tmp_path / "first", typed=lines())
    out = run("export", tmp_path / "first", "--out", tmp_path / "table.csv")
    assert out.exit_code == 0, out.output
    back = run("import", tmp_path / "table.csv", tmp_path / "second")
    assert back.exit_code == 0, back.output
    first, second = (read_catalog(user_parts=tmp_path / name / "parts").parts for name in ("first", "second"))
    assert first["own-amber"] == second["own-amber"]


def test_the_starting_catalogue_is_a_table_of_91(tmp_path):
    shown = run("export", tmp_path, "--all")
    assert len(shown.stdout.splitlines()) == 1 + 91


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("export", "{folder}"), "holds no part of your own"),
        (("import", "{folder}/none.csv", "{folder}"), "there is no such file"),
        (("import", "{folder}"), "is a folder"),
    ],
)
def test_a_call_that_cannot_be_is_one_line(tmp_path, arguments, words):
    shown = run(*(word.format(folder=tmp_path) for word in arguments))
    assert shown.exit_code == 2
    (line,) = shown.stderr.splitlines()
    assert words in line
