"""Time of the whole demonstration, from the command to the written report: traced anew, then with its traces kept."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

DEMO = Path(__file__).parents[1] / "examples" / "harbour-keepsake"
WARM_RUNS = 3
DONE = (0, 1)  # 1: done, and the board has flaws, as the demonstration has on purpose


def seconds(out: Path, *options: str) -> float:
    """Time of one run in a process of its own."""
    start = time.perf_counter()
    command = [Path(sys.executable).with_name("paneglow"), "light", DEMO, "--out", out, *options]
    code = subprocess.run(command, check=False, stdout=subprocess.DEVNULL).returncode
    if code not in DONE:
        raise SystemExit(f"the demonstration ended with {code}; run `make demo` to see why")
    return time.perf_counter() - start


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        seconds(Path(folder))  # compiles the kernels where they are not yet
        traced = seconds(Path(folder), "--fresh")
        warm = [seconds(Path(folder)) for _ in range(WARM_RUNS)]
    print(f"{'whole demonstration':36s} {'seconds':>10s}")
    print(f"{'traced anew':36s} {traced:10.1f}")
    print(f"{'traces kept, ' + str(WARM_RUNS) + ' runs, fastest':36s} {min(warm):10.1f}")
    print(f"{'slowest':36s} {max(warm):10.1f}")


if __name__ == "__main__":
    main()
