"""How the LEDs are put on the board: polarity, lands, mechanics, machine or hand."""

__all__: list[str] = []
