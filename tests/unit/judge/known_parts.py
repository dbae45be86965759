"""Parts of the judge's tests: a chip whose terminals, mark and tape are known."""

import datetime

from paneglow.catalog import Body, Evidence, Part, Peak, PolarityMark, Spectrum, TapeOrientation, Terminals
from paneglow.units import Quantity

INVENTED = "invented for this test"


def quantity(value: float, *, low: float | None = None, high: float | None = None) -> Quantity:
    return Quantity(value=value, low=low, high=high, origin="measured", source=INVENTED)


PADS = [
    {"name": name, "role": role, "at_mm": (x, 0.0), "length_mm": 0.5, "width_mm": 1.6}
    for name, role, x in (("C", "cathode", -1.35), ("A", "anode", 1.35))
]
METER = Evidence(kind="meter-test", date=datetime.date(2026, 11, 1), who=INVENTED)
SOLDER_UP = TapeOrientation(face="solder-up", terminal="C", quadrants=(1, 2), evidence=METER)  # comes lens down
SOLDER_DOWN = SOLDER_UP.model_copy(update={"face": "solder-down"})


def terminals(**changes: object) -> Terminals:
    plain = {"pads": PADS, "tolerance_mm": 0.1, "wrap": True, "origin": "measured", "source": INVENTED}
    return Terminals.model_validate(plain | changes)


def part(**changes: object) -> Part:
    plain = Part(
        code="chip-red",
        kind="chip",
        colour="red",
        body=Body(length_mm=3.2, width_mm=1.6, height_mm=1.1, origin="measured", source=INVENTED),
        emitter_length_mm=quantity(1.0),
        emitter_width_mm=quantity(1.0),
        emitter_height_mm=quantity(0.75),
        half_angle_deg=quantity(60.0),
        spectrum=Spectrum(peaks=(Peak(peak_nm=625, fwhm_nm=18),), origin="measured", source=INVENTED),
        test_current_ma=1.0,
        intensity_mcd=quantity(50.0),
        forward_voltage_v=quantity(1.9, low=1.7, high=2.2),
        current_max_ma=quantity(20.0),
        body_reflectance=quantity(0.5),
        terminals=terminals(),
        mark=PolarityMark(shape="dot", face="bottom", at_mm=(-1.2, 0.0), terminal="C", evidence=METER),
        tape=SOLDER_UP,
    )
    return plain.model_copy(update=changes)
