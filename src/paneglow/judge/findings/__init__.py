"""The rules that find defects, in three tables: of the board, of its solved circuit, of its traced light."""

from paneglow.judge.findings import (
    aim,
    bleed,
    certainty,
    circuit,
    colour,
    cost,
    evenness,
    fit,
    lands,
    mechanics,
    parts,
    polarity,
    supply,
    windows,
)
from paneglow.judge.findings.cost_context import CostContext
from paneglow.judge.findings.rule import (
    COVER_MAX_FRAC,
    BoardContext,
    CircuitContext,
    LightContext,
    Rule,
    Threshold,
)

__all__ = [
    "BOARD_RULES",
    "CIRCUIT_RULES",
    "COST_RULES",
    "LIGHT_RULES",
    "BoardContext",
    "CircuitContext",
    "CostContext",
    "LightContext",
    "Rule",
    "Threshold",
]

COIN_CELL = (supply.COIN_CELL_OPEN_V, supply.COIN_CELL_OHM_LOW, supply.COIN_CELL_OHM_HIGH)
DIODE = (supply.THERMAL_V, supply.IDEALITY_LOW, supply.IDEALITY_HIGH)

BOARD_RULES: tuple[Rule[BoardContext], ...] = (
    Rule(find=windows.window_shadowed, severities=("warning", "note"), thresholds=(windows.SHADOW_WARNING_FRAC,)),
    Rule(find=windows.window_under_mask, severities=("warning", "note"), thresholds=(windows.MASKED_FACE_FRAC,)),
    Rule(find=windows.window_unlit, severities=("warning",)),
    Rule(find=windows.windows_not_in_design, severities=("note",)),
    Rule(find=aim.led_without_window, severities=("note",)),
    Rule(
        find=aim.led_far_from_window,
        severities=("warning",),
        thresholds=(aim.SIDE_REACH_HEIGHTS, aim.BEHIND_REACH_HEIGHTS),
    ),
    Rule(find=aim.side_view_aims_away, severities=("error", "warning"), thresholds=(aim.AIM_MAX_DEG,)),
    Rule(find=aim.led_off_its_window, severities=("error", "warning"), thresholds=(COVER_MAX_FRAC,)),
    Rule(find=aim.led_behind_copper, severities=("error", "warning"), thresholds=(COVER_MAX_FRAC,)),
    Rule(find=fit.mounting_does_not_fit_part, severities=("warning",)),
    Rule(find=fit.top_view_without_cover, severities=("error",)),
    Rule(find=fit.hole_missing, severities=("error",), thresholds=(COVER_MAX_FRAC,)),
    Rule(find=fit.led_over_hole, severities=("warning",), thresholds=(COVER_MAX_FRAC,)),
    Rule(find=fit.led_over_outline, severities=("error",), thresholds=(fit.OVERLAP_MIN_MM2,)),
    Rule(find=fit.leds_overlap, severities=("error",), thresholds=(fit.OVERLAP_MIN_MM2,)),
    Rule(find=fit.current_above_limit, severities=("error", "warning")),
    Rule(find=polarity.led_reversed, severities=("error",)),
    Rule(find=polarity.led_off_its_lands, severities=("error",)),
    Rule(find=polarity.led_on_one_net, severities=("error",)),
    Rule(find=polarity.led_leads_nowhere, severities=("error",)),
    Rule(find=polarity.legend_mark_disagrees, severities=("error",)),
    Rule(find=polarity.two_ways_disagree, severities=("error",)),
    Rule(find=polarity.same_lands_opposite_marks, severities=("warning",)),
    Rule(find=polarity.polarity_not_told, severities=("warning",)),
    Rule(find=polarity.net_names_disagree, severities=("warning",)),
    Rule(find=polarity.mark_hidden_once_mounted, severities=("note",)),
    Rule(find=parts.mark_unverified, severities=("warning",)),
    Rule(find=parts.several_chips_as_one, severities=("error",)),
    Rule(find=lands.land_missing, severities=("error", "warning")),
    Rule(find=lands.land_joined, severities=("error", "warning")),
    Rule(
        find=lands.land_overhung,
        severities=("error", "warning"),
        thresholds=(lands.SIDE_OVERHANG_MOST_FRAC, lands.END_JOINT_LEAST_FRAC),
    ),
    Rule(find=lands.land_short, severities=("warning",)),
    Rule(find=lands.lens_on_land, severities=("warning",), thresholds=(lands.LENS_ON_LAND_MM,)),
    Rule(find=lands.copper_at_opening, severities=("warning",), thresholds=(lands.OPENING_MARGIN_MM,)),
    Rule(find=lands.bare_copper_near, severities=("warning",), thresholds=(lands.FOREIGN_ROOM_MM,)),
    Rule(find=lands.ends_without_metal, severities=("warning",)),
    Rule(find=mechanics.lens_down_unsteady, severities=("warning",), thresholds=(mechanics.UNEVEN_FRAC,)),
    Rule(find=mechanics.part_meets_cover, severities=("error", "warning"), thresholds=(mechanics.COVER_ROOM_MM,)),
    Rule(find=mechanics.parts_too_near, severities=("warning",), thresholds=(mechanics.TOOL_ROOM_MM,)),
    Rule(find=mechanics.built_by_hand, severities=("note",)),
    Rule(find=mechanics.tape_unknown, severities=("note",)),
    Rule(
        find=supply.forward_voltage_too_high,
        severities=("error", "warning"),
        thresholds=(*COIN_CELL, supply.USB_OPEN_V, *DIODE),
    ),
    Rule(
        find=supply.supply_current_too_high,
        severities=("error", "warning"),
        thresholds=(supply.COIN_CELL_CONTINUOUS_MA, supply.COIN_CELL_PULSE_MA, supply.USB_CONTINUOUS_MA),
    ),
    Rule(
        find=supply.cell_empties_soon,
        severities=("note",),
        thresholds=(supply.COIN_CELL_RATED_MA, supply.COIN_CELL_CAPACITY_MAH),
    ),
    Rule(
        find=circuit.flashes_too_fast,
        severities=("error",),
        thresholds=(circuit.FLASHES, circuit.FLASH_AREA, circuit.SEEN_TURN),
    ),
    Rule(find=certainty.laminate_assumed, severities=("note",)),
)

CIRCUIT_RULES: tuple[Rule[CircuitContext], ...] = (
    Rule(find=circuit.led_limit_passed, severities=("error", "warning")),
    Rule(find=circuit.reverse_voltage_too_high, severities=("error", "warning")),
    Rule(find=circuit.pin_limit_passed, severities=("error", "warning")),
    Rule(find=circuit.supply_limit_passed, severities=("error", "warning")),
    Rule(
        find=circuit.led_starved,
        severities=("error", "warning"),
        thresholds=(circuit.STARVED_FRAC, circuit.DARK_FRAC),
    ),
    Rule(find=circuit.chip_starved, severities=("error",)),
    Rule(find=circuit.ghost_light, severities=("warning",), thresholds=(circuit.GHOST_FRAC, circuit.GHOST_MA)),
    Rule(find=circuit.resistor_too_warm, severities=("error",)),
    Rule(
        find=circuit.junction_too_warm,
        severities=("error", "warning"),
        thresholds=(circuit.JUNCTION_WARM_C, circuit.JUNCTION_HOT_C),
    ),
    Rule(find=circuit.light_flickers, severities=("warning", "note"), thresholds=(circuit.LOW_RISK_FREE_HZ,)),
)

LIGHT_RULES: tuple[Rule[LightContext], ...] = (
    Rule(
        find=bleed.window_bleeds,
        severities=("warning",),
        thresholds=(bleed.BLEED_MAX_FRAC, bleed.GUIDED_REACH_MM, bleed.CULPRIT_MIN_FRAC),
    ),
    Rule(
        find=evenness.window_uneven,
        severities=("warning",),
        thresholds=(evenness.STOPS_MAX, evenness.BRIGHT_FRAC, evenness.RIM_FADE_FRAC),
    ),
    Rule(find=evenness.lost_in_room_light, severities=("note",), thresholds=(evenness.CONTRAST_MIN,)),
    Rule(find=colour.colour_drifts, severities=("note",), thresholds=(colour.DRIFT_MAX_UV,)),
    Rule(
        find=certainty.result_noisy,
        severities=("note",),
        thresholds=(certainty.NOISE_MAX_FRAC, certainty.EVENNESS_NOISE_MAX),
    ),
    Rule(find=certainty.window_dark, severities=("error",)),
)

COST_RULES: tuple[Rule[CostContext], ...] = (
    Rule(find=cost.price_below_variable_cost, severities=("error", "warning", "note")),
    Rule(find=cost.margin_out_of_reach, severities=("error",)),
    Rule(find=cost.run_does_not_pay, severities=("warning",)),
    Rule(find=cost.price_too_old, severities=("warning",), thresholds=(cost.PRICE_AGE_MAX_DAYS,)),
    Rule(find=cost.price_dated_ahead, severities=("warning",)),
    Rule(find=cost.leftovers_costly, severities=("warning",), thresholds=(cost.LEFTOVER_MAX_FRAC,)),
    Rule(find=cost.cheapest_way_open, severities=("note",), thresholds=(cost.CHEAPEST_MIN_FRAC,)),
    Rule(find=cost.run_off_the_demand, severities=("note",), thresholds=(cost.RUN_OFF_BEST_FRAC,)),
)
