"""What a run writes beside the fabrication files does not change the fingerprint of the design."""

from paneglow.design import read_design
from paneglow.results import hash_design_files
from tiny_board import write_tiny_board


def test_reports_and_traces_in_the_same_folder_do_not_count(tmp_path):
    design_path = write_tiny_board(tmp_path)
    design_path = design_path / "design.toml" if design_path.is_dir() else design_path
    design = read_design(design_path)
    before = hash_design_files(design_path, design=design)
    beside = design_path.parent / design.board.fabrication / "glow" / "traces"
    beside.mkdir(parents=True)
    (beside / "0.trace").write_bytes(b"light")
    (beside.parent / "results.json").write_text("{}")
    assert hash_design_files(design_path, design=design) == before
