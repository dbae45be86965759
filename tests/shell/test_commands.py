import subprocess
import sys

from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.cli.commands import COMMANDS


def test_the_help_lists_every_command_in_its_order():
    lines = CliRunner().invoke(app, ["--help"]).output.splitlines()
    listed = [line.split()[0] for line in lines[lines.index("Commands:") + 1 :] if line.strip()]
    assert [name for name in listed if name in COMMANDS] == list(COMMANDS)


def test_a_command_that_is_not_there_is_told_in_one_line():
    outcome = CliRunner().invoke(app, ["glow"])
    assert outcome.exit_code == 2
    assert "glow" in outcome.output


def test_a_small_command_does_not_wait_for_the_imports_of_the_large_ones(tmp_path):
    program = (
        "import sys; from paneglow.cli import app;"
        f" app(['demo', {str(tmp_path / 'demo')!r}], standalone_mode=False);"
        " print([name for name in ('numpy', 'scipy', 'numba') if name in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    assert shown.splitlines()[-1] == "[]"


def test_no_command_imports_what_only_some_of_its_work_needs():
    """The compiler, the plotting and colour libraries and the larger parts of scipy come in where they are called."""
    program = (
        "import sys; from importlib import import_module; from paneglow.cli.commands import COMMANDS;"
        " [import_module(f'paneglow.cli.{name}') for name in COMMANDS];"
        " heavy = ('numba', 'colour', 'matplotlib', 'scipy.ndimage', 'scipy.optimize', 'scipy.sparse', 'scipy.special',"
        " 'scipy.spatial', 'scipy.linalg', 'scipy.fft');"
        " print([name for name in heavy if name in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    assert shown.splitlines()[-1] == "[]"
