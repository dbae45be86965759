"""Photons through the laminate."""

from paneglow.transport.tally import Fates, LedLight, Tally

__all__ = ["Fates", "LedLight", "Tally"]
