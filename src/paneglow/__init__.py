"""How a decorative circuit board will glow: light from LEDs through windows of bare laminate."""

__version__ = "0.1.0"
