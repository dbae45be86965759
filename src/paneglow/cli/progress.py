"""A progress bar on stderr with the time left; silent where nobody watches."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from rich.progress import BarColumn, Progress, ProgressColumn, Task, TextColumn
from rich.text import Text

from paneglow.cli.console import build_console
from paneglow.results import Listener
from paneglow.results import Progress as StageProgress


class _TimeLeft(ProgressColumn):
    def render(self, task: Task) -> Text:
        seconds = task.fields["seconds_left"]
        if not seconds:
            return Text("")
        return Text(f"{seconds // 60:.0f} min {seconds % 60:.0f} s left" if seconds >= 60 else f"{seconds:.0f} s left")


@contextmanager
def show_progress() -> Iterator[Listener]:
    """Give a listener that draws how far the current stage is; it draws nothing where stderr is not a terminal."""
    console = build_console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(bar_width=24), _TimeLeft())
    with Progress(*columns, console=console, transient=True, disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task("", total=1.0, seconds_left=None)

        def listen(progress: StageProgress) -> None:
            bar.update(
                task,
                description=f"{progress.stage:<28}",
                completed=progress.done_frac,
                seconds_left=progress.seconds_left,
            )

        yield listen
