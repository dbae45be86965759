"""Photons through the laminate: tracing a scene into a tally of light per LED, or a window into a response to ask."""

from paneglow.transport.cache import TRACE_ENDING, TraceCache
from paneglow.transport.devices import TracingDevice, choose_device
from paneglow.transport.response import (
    Answer,
    ReadyResponse,
    Response,
    ResponseEffort,
    ask_response,
    ready_response,
    trace_response,
)
from paneglow.transport.run import TraceProgress, trace
from paneglow.transport.tally import Fates, LedLight, Tally, add_light, cut_light

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
