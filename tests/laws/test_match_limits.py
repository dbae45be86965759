"""Whatever is asked of a match, no LED, pin, chip or supply of what it proposes carries more than it may."""

from hypothesis import given, settings
from hypothesis import strategies as st

from matching_boards import SUPPLIES, WIRINGS, match_case
from paneglow.design import ChipDesign
from paneglow.drive.circuit import circuit_loads, solve_point
from paneglow.drive.matching import match_bought, match_exactly


@settings(max_examples=20, deadline=None, derandomize=True)
@given(
    wiring=st.sampled_from(sorted(WIRINGS)),
    supply=st.sampled_from(sorted(SUPPLIES)),
    seed=st.integers(min_value=0, max_value=10_000),
    windows=st.integers(min_value=1, max_value=6),
    ohm=st.floats(min_value=150.0, max_value=5000.0),
    pin_max_ma=st.floats(min_value=4.0, max_value=30.0),
    luminance_cd_m2=st.floats(min_value=0.1, max_value=1e4),
)
def test_nothing_proposed_is_above_a_limit(wiring, supply, seed, windows, ohm, pin_max_ma, luminance_cd_m2):
    chip = ChipDesign(kind="cmos-8bit", pin_max_ma=pin_max_ma, port_max_ma=60.0, chip_max_ma=80.0)
    case = match_case(seed, wiring=wiring, supply=supply, windows=windows, ohm=ohm, chip=chip)
    task = case.task(luminance_cd_m2=luminance_cd_m2)
    bought = match_bought(task, exact=match_exactly(task))
    uses = circuit_loads(bought.circuit, point=solve_point(bought.circuit))
    passed = [use for use in uses if use.exceeded]
    # In a scan the current within a pulse is set by pin resistors, which matching leaves alone and says so
    left_alone = [use for use in passed if wiring in ("matrix", "charlieplex") and use.quantity != "mean current"]
    assert [use for use in passed if use not in left_alone] == []
    assert set(left_alone) <= set(bought.exceeded) | {use for use in left_alone if use.quantity == "reverse voltage"}
