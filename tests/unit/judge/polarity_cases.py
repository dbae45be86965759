"""One polarity chain for every rule about which way round LEDs are, on the clean board of `cases`."""

from collections.abc import Callable
from dataclasses import replace
from typing import get_args

from paneglow.assembly import NO_POLARITY, AcrossLands, LedPolarity, MarkOnBoard, Misread, Polarity, RowCheck
from paneglow.assembly.wiring import WiringCheck, WiringCode, WiringFault
from paneglow.catalog import PolarityMark
from paneglow.judge.findings import BoardContext
from unit.judge.cases import FLAT_LED, SIDE_LED, before_light, board
from unit.judge.known_parts import METER, part

RIGHT = LedPolarity(
    ref=FLAT_LED.ref,
    part="chip-red",
    mounting="lens_down",
    side="back",
    state="correct",
    proven=True,
    reason="Its anode lies at (30.35, 13.00) mm on net 2, the positive side; by rails of the design.",
    anode_mm=(30.8, 13.0),
    cathode_mm=(27.2, 13.0),
    anode_direction="left",
    anode_net="net 2",
    cathode_net="net 1",
    dead_end=None,
    mark=None,
    legend="cathode",
    legend_agrees=True,
    mark_agrees=None,
    how_to_test="Put a meter's diode range across it.",
)
SHOWN = MarkOnBoard(shape="notch", means="anode", verified=True, visible=True, at_mm=(27.8, 13.0), direction="right")
HIDDEN = MarkOnBoard(shape="dot", means="cathode", verified=True, visible=False, at_mm=(27.8, 13.0), direction="right")
ROW = RowCheck(
    ref=FLAT_LED.ref, part="chip-red", proven=True, state="reversed", rotation_deg=0.0, anode_mm=(30.35, 13.0)
)


def _with(*, conflicts: tuple[str, ...] = (), rows: tuple[RowCheck, ...] = (), **changes: object) -> BoardContext:
    polarity = Polarity(
        basis="rails of the design",
        leds=(RIGHT.model_copy(update=changes),),
        rows=rows,
        rule=(),
        conflicts=conflicts,
    )
    return replace(before_light(), polarity=polarity)


def _resistor_across() -> BoardContext:
    across = AcrossLands(ref="R1", at_mm=(12.0, 5.0), off_deg=90.0)
    polarity = Polarity(basis="", leds=(), rows=(), across=(across,), rule=(), conflicts=())
    return replace(before_light(), polarity=polarity)


def _wiring(code: str) -> BoardContext:
    fault = WiringFault(code=code, subject=FLAT_LED.ref, at_mm=FLAT_LED.at_mm, reason="Copper is otherwise.")
    return replace(before_light(), polarity=NO_POLARITY.model_copy(update={"wiring": WiringCheck(faults=(fault,))}))


MISREAD = Misread(refs=(FLAT_LED.ref,), part="", right_if="read so", write='placement_zero = "axis"')


def _opposite_marks() -> BoardContext:
    other = PolarityMark(shape="dot", face="bottom", at_mm=(1.2, 0.0), terminal="A", evidence=METER)
    sibling = replace(FLAT_LED, ref="D3", at_mm=(29.0, 20.0), part=part(code="chip-green", mark=other))
    return before_light(made=board(SIDE_LED, FLAT_LED, sibling))


POLARITY_CASES: dict[str, Callable[[], BoardContext]] = {
    "placement-misread": lambda: replace(
        before_light(), polarity=NO_POLARITY.model_copy(update={"basis": "rails of the design", "misread": (MISREAD,)})
    ),
    "led-reversed": lambda: _with(state="reversed", reason="Its anode comes to lie at (27, 13) mm on net 1."),
    "led-off-its-lands": lambda: _with(state="off its pads", reason="Its anode comes to lie at (27, 13) mm."),
    "part-across-its-lands": _resistor_across,
    "led-on-one-net": lambda: _with(state="both on one net", reason="Copper joins its pads."),
    "led-leads-nowhere": lambda: _with(dead_end="cathode"),
    "legend-mark-disagrees": lambda: _with(legend="anode", legend_agrees=False),
    "mark-against-legend": lambda: _with(mark=SHOWN, mark_agrees=False),
    "legend-mark-missing": lambda: _with(legend=None, legend_agrees=None),
    "two-ways-disagree": lambda: _with(rows=(ROW,)),
    "same-lands-opposite-marks": _opposite_marks,
    "polarity-not-told": lambda: _with(state="not told", reason="Which of net 1 and net 2 cannot be told."),
    "net-names-disagree": lambda: _with(conflicts=("copper joins the nets A and B (at (1.0, 2.0) mm)",)),
    "mark-hidden-once-mounted": lambda: _with(mark=HIDDEN),
    **{code: lambda code=code: _wiring(code) for code in get_args(WiringCode)},
}
