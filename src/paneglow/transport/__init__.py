"""Photons through the laminate: tracing a scene into a tally of light per LED, or a window into a response to ask."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from paneglow.transport.cache import TRACE_ENDING, TraceCache
from paneglow.transport.devices import TracingDevice, choose_device
from paneglow.transport.run import TraceProgress, trace
from paneglow.transport.tally import Fates, LedLight, Tally, add_light, cut_light

if TYPE_CHECKING:
    from paneglow.transport.response import (
        Answer,
        ReadyResponse,
        Response,
        ResponseEffort,
        ask_response,
        ready_response,
        trace_response,
    )

__all__ = [
    "TRACE_ENDING",
    "Answer",
    "Fates",
    "LedLight",
    "ReadyResponse",
    "Response",
    "ResponseEffort",
    "Tally",
    "TraceCache",
    "TraceProgress",
    "TracingDevice",
    "add_light",
    "ask_response",
    "choose_device",
    "cut_light",
    "ready_response",
    "trace",
    "trace_response",
]


def __getattr__(name: str) -> Any:
    """What asks a response comes in when it is first named: no command needs it, and it brings the compiler along."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module("paneglow.transport.response"), name)
