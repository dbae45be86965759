"""Changes: every finding in one of them, what blocks release first, then by goals missed and open."""

from paneglow.design import Goals
from paneglow.judge import Finding, GoalResult, build_changes
from paneglow.units import Estimate, KnownRange
from unit.judge import cases

BOARD = cases.board()  # D1 lights the window lantern, D2 the window buoy


def finding(code, subject, *, severity="warning", remedy="Do it."):
    return Finding(code=code, severity=severity, subject=subject, at_mm=None, reason="Why.", remedy=remedy)


def goal(field, window, outcome, *, required=0.5, found=None):
    return GoalResult(
        goal=field, window=window, required=required, found=found or cases.exact(0.25), margin=0.0, outcome=outcome,
        sentence="",
    )  # fmt: skip


def test_what_blocks_release_comes_first_then_missed_goals_then_open_ones_then_severity():
    findings = (
        finding("lens-down-unsteady", "D2"),
        finding("window-bleeds", "buoy"),
        finding("window-uneven", "lantern"),
        finding("mark-unverified", "D1"),
        finding("built-by-hand", "D2", severity="note"),
    )
    goals = (goal("evenness_min", "lantern", "missed"), goal("bleed_max", "buoy", "open"))
    changes = build_changes(findings, goals=goals, board=BOARD)
    assert [change.findings for change in changes] == [(3,), (2,), (1,), (0,), (4,)]
    assert [change.goals for change in changes] == [(), (0,), (1,), (), ()]
    assert [change.blocks_release for change in changes] == [True, False, False, False, False]


def test_equal_findings_are_one_change_and_keep_who_they_are():
    findings = (
        finding("window-unlit", "lantern", remedy="Say window = 'lantern' at (1.0, 2.0) mm."),
        finding("window-unlit", "buoy", remedy="Say window = 'buoy' at (3.5, 4.0) mm."),
        finding("window-unlit", "buoy", severity="note", remedy="Say window = 'buoy' at (3.5, 4.0) mm."),
    )
    both, other = build_changes(findings, goals=(), board=BOARD)
    assert (both.subjects, both.findings) == (("buoy", "lantern"), (0, 1))
    assert both.do == "Say window = 'lantern' at (1.0, 2.0) mm. Likewise for buoy."
    assert other.findings == (2,)


def test_an_error_on_an_led_says_that_its_window_is_not_known():
    (change,) = build_changes((finding("led-reversed", "D2", severity="error"),), goals=(), board=BOARD)
    assert "no board can be ordered, and what buoy will show is not known" in change.effect


def test_a_missed_goal_that_no_finding_speaks_of_is_a_change_with_the_light_it_needs():
    missed = goal("luminance_min_cd_m2", "buoy", "missed", required=2.0, found=cases.exact(0.4))
    (change,) = build_changes((), goals=(missed, goal("bleed_max", "buoy", "met")), board=BOARD)
    assert (change.findings, change.goals, change.subjects) == ((), (0,), ("buoy",))
    assert "5 times the light" in change.effect  # 2 over 0.4


def test_measuring_the_laminate_says_how_many_open_goals_it_would_settle():
    # With the laminate known, one range lies above its limit, one below, one still on both sides
    ranges = ((0.6, 0.7), (0.2, 0.3), (0.4, 0.7))
    goals = tuple(
        goal(
            "evenness_min", "buoy", "open",
            found=Estimate(value=ends[0], se=0.0, low=0.1, high=0.9, known=KnownRange(laminate=ends, leds=(0.1, 0.9))),
        )
        for ends in ranges
    )  # fmt: skip
    goals += (goal("evenness_min", "lantern", "missed"),)
    laminate, reach = build_changes((finding("laminate-assumed", "board", severity="note"),), goals=goals, board=BOARD)[
        ::-1
    ]
    assert laminate.goals == (0, 1, 2)
    assert (
        laminate.effect
        == "3 goals are open; if a measured laminate turns out like the usual one: 1 met, 1 missed, 1 still open."
    )
    assert reach.goals == (3,)


def test_without_traced_light_a_change_names_the_stated_goals_it_bears_on():
    changes = build_changes((finding("window-shadowed", "buoy"),), goals=(), board=BOARD, stated=("evenness_min",))
    assert changes[0].effect == "It bears on the evenness of buoy."
    (free,) = build_changes((finding("window-bleeds", "buoy"),), goals=(), board=BOARD)  # where no goal is stated
    assert free.effect == "It bears on the bleed of buoy."


def test_of_equal_weight_what_concerns_most_comes_first_and_names_stand_by_number():
    findings = (
        finding("led-overlap", "D7", severity="error", remedy="Move it."),
        *(finding("led-reversed", ref, severity="error", remedy="Turn it.") for ref in ("D10", "D9", "D2")),
    )
    many, one = build_changes(findings, goals=(), board=BOARD)
    assert many.subjects == ("D2", "D9", "D10")
    assert one.subjects == ("D7",)


def test_the_fields_that_findings_bear_on_are_goals_of_a_design():
    from paneglow.judge.changes import RULES

    assert {field for rule in RULES.values() for field in rule.bears_on} <= set(Goals.model_fields)
