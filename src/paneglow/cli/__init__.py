"""The command line: parses, calls, prints and exits; computes nothing."""

import os
import signal
import sys
from typing import Any, NoReturn

__all__ = ["app", "main"]

EXIT_INTERRUPTED = 130  # 128 + SIGINT, the habit of shells
STOPPED = "paneglow: stopped; no half-written file was left"


def main() -> None:
    """Run the command line and exit.

    Whoever presses Ctrl-C, from the first import to the last line, sees one line and exit code 130.
    """
    signal.signal(signal.SIGINT, _interrupt)
    sys.unraisablehook = _let_through(sys.unraisablehook)
    sys.excepthook = _without_stops(sys.excepthook)
    try:
        from paneglow.cli.commands import run  # noqa: PLC0415  an import can be stopped as well

        outcome = run()
    except BaseException:
        if signal.getsignal(signal.SIGINT) is not _interrupt:
            _stop()  # whatever it was: a library stopped while it is set up fails with an error of its own
        raise
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # all is done and said
    if outcome == EXIT_INTERRUPTED:
        os._exit(outcome)  # threads at work have nothing to clear up
    sys.exit(outcome)


def _interrupt(*_: object) -> None:
    """Unwind what is at work, so that it clears up; whoever asks a second time need not wait for that."""
    signal.signal(signal.SIGINT, lambda *_: _stop())
    raise KeyboardInterrupt


def _stop() -> NoReturn:
    """Say so and end here and now."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sys.stdout.flush()
    sys.stderr.write(f"{STOPPED}\n")
    sys.stderr.flush()
    os._exit(EXIT_INTERRUPTED)


def _let_through(usual: Any) -> Any:
    """What is called with errors that nobody can catch: Ctrl-C among them is raised once more, where it can be."""

    def hook(unraisable: Any) -> None:
        if issubclass(unraisable.exc_type, KeyboardInterrupt):
            signal.signal(signal.SIGINT, _interrupt)
            signal.raise_signal(signal.SIGINT)
        else:
            usual(unraisable)

    return hook


def _without_stops(usual: Any) -> Any:
    """What prints an error: Ctrl-C is not one, also where a library written in C prints what stopped its import."""

    def hook(*error: Any) -> None:  # its type, itself and its traceback
        if not issubclass(error[0], KeyboardInterrupt):
            usual(*error)

    return hook


def __getattr__(name: str) -> Any:
    if name == "app":
        from paneglow.cli.commands import app  # noqa: PLC0415

        return app
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
