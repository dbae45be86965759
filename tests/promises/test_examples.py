"""The examples run, and print what they promise."""

import runpy
from pathlib import Path

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_a_bare_slab_can_be_traced_from_plain_arrays(capsys):
    runpy.run_path(str(EXAMPLES / "bare-slab" / "trace.py"), run_name="__main__")
    printed = dict(line.split(maxsplit=1) for line in capsys.readouterr().out.splitlines())
    for name, reference in (("back", 0.45698), ("front", 0.41735)):
        found, error = (float(word) for word in printed[name].split(" +- "))
        # 4 standard errors of 16 batches and the reference's own 8e-5: a false alarm once in about 800
        assert abs(found - reference) < 4.0 * (error + 8e-5)


def test_a_lit_window_from_plain_arrays_is_as_bright_as_a_renderer_says(capsys):
    runpy.run_path(str(EXAMPLES / "lit-window" / "trace.py"), run_name="__main__")
    found, _, error, *_ = capsys.readouterr().out.removeprefix("window over lamp ").split()
    # The renderer's own error is 3e-5; 4 standard errors of both
    assert abs(float(found) - 0.00598) < 4.0 * (float(error) + 3e-5)
