"""Photons through the laminate: tracing a scene into a tally of light per LED."""

from paneglow.transport.cache import TRACE_ENDING, TraceCache
from paneglow.transport.run import TraceProgress, trace
from paneglow.transport.tally import Fates, LedLight, Tally, add_light, cut_light

__all__ = [
    "TRACE_ENDING",
    "Fates",
    "LedLight",
    "Tally",
    "TraceCache",
    "TraceProgress",
    "add_light",
    "cut_light",
    "trace",
]
