"""Time of a whole design, from the command to the written report: traced anew, then with its traces kept.

`whole.py` takes the demonstration; `whole.py DESIGN --quality draft` another design or quality.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DEMO = Path(__file__).parents[1] / "examples" / "harbour-keepsake"
WARM_RUNS = 3
DONE = (0, 1)  # 1: done, and the board has flaws, as the demonstration has on purpose


def seconds(design: Path, *options: str | Path) -> float:
    """Time of one run in a process of its own."""
    start = time.perf_counter()
    command = [Path(sys.executable).with_name("paneglow"), "light", design, *options]
    code = subprocess.run(command, check=False, stdout=subprocess.DEVNULL).returncode
    if code not in DONE:
        raise SystemExit(f"`paneglow light {design}` ended with {code}; run it to see why")
    return time.perf_counter() - start


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("design", nargs="?", type=Path, default=DEMO, help="design.toml or the folder that holds it")
    parser.add_argument("--quality", default="normal", help="draft, normal or fine (default normal)")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        options = ("--out", folder, "--quality", arguments.quality)
        seconds(arguments.design, *options)  # compiles the kernels where they are not yet
        traced = seconds(arguments.design, *options, "--fresh")
        warm = [seconds(arguments.design, *options) for _ in range(WARM_RUNS)]
    print(f"{arguments.design.name:36s} {'seconds':>10s}")
    print(f"{'traced anew':36s} {traced:10.1f}")
    print(f"{'traces kept, ' + str(WARM_RUNS) + ' runs, fastest':36s} {min(warm):10.1f}")
    print(f"{'slowest':36s} {max(warm):10.1f}")


if __name__ == "__main__":
    main()
