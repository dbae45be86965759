"""Responses: trace a window once, then ask for any currents, colours, places, attitudes and laminates."""

from paneglow.transport.response.ask import ask_response
from paneglow.transport.response.kit import ResponseEffort
from paneglow.transport.response.ready import ReadyResponse, ready_response
from paneglow.transport.response.records import Answer, Channels, Difference, EntryBins, PointSpread, Response
from paneglow.transport.response.trace import trace_response

__all__ = [
    "Answer",
    "Channels",
    "Difference",
    "EntryBins",
    "PointSpread",
    "ReadyResponse",
    "Response",
    "ResponseEffort",
    "ask_response",
    "ready_response",
    "trace_response",
]
