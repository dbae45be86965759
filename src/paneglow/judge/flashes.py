"""How often the finished piece flashes: as the design says, or by a scan or PWM whose turns are seen."""

from paneglow.design import Design

SEEN_TURN_HZ = 50.0  # up to here single turns are seen as flashes; flicker fuses at 50 to 90 Hz, from memory


def flash_rate_hz(design: Design) -> float:
    """Flashes per second [Hz], 0 for light that is steady to the eye."""
    stated_hz = 0.0 if design.supply is None else design.supply.flash_hz
    turns_hz = (group.cycle_hz for group in design.circuit if group.cycle_hz is not None)
    return max([stated_hz, *(rate_hz for rate_hz in turns_hz if rate_hz <= SEEN_TURN_HZ)])
