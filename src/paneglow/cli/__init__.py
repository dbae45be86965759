"""The command line: parses, calls, prints and exits; computes nothing."""

from paneglow.cli.app import app, main

__all__ = ["app", "main"]
