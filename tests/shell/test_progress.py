"""The progress bar: drawn for a person at a terminal with the time left, silent elsewhere."""

import io
import sys

import pytest

from paneglow.cli.progress import show_progress
from paneglow.results import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("stream", "words"), [(Terminal(), ("trace the light", "1 min 5 s left")), (io.StringIO(), ())]
)
def test_stage_and_time_left_are_shown_only_at_a_terminal(monkeypatch, stream, words):
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setenv("TERM", "xterm")
    with show_progress() as listen:
        listen(Progress(stage="read the design", done_frac=1.0, seconds_left=0.0))
        listen(Progress(stage="trace the light", done_frac=0.3, seconds_left=65.0))
    shown = stream.getvalue()
    assert all(word in shown for word in words)
    assert bool(shown) == bool(words)
