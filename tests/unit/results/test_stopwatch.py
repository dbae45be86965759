from paneglow.results import Progress, Stopwatch
from paneglow.transport import TraceProgress


def test_a_stage_is_told_when_it_starts_and_ends_and_is_timed():
    told: list[Progress] = []
    watch = Stopwatch(told.append)
    with watch.stage("first"):
        watch.within("first")(TraceProgress(done_frac=0.4, seconds_left=3.0))
    with watch.stage("second"):
        pass
    assert [(row.stage, row.done_frac, row.seconds_left) for row in told] == [
        ("first", 0.0, None),
        ("first", 0.4, 3.0),
        ("first", 1.0, 0.0),
        ("second", 0.0, None),
        ("second", 1.0, 0.0),
    ]
    assert [time.stage for time in watch.times] == ["first", "second"]
    assert all(time.seconds >= 0.0 for time in watch.times)


def test_nobody_need_listen():
    watch = Stopwatch(None)
    with watch.stage("only"):
        watch.within("only")(TraceProgress(done_frac=0.5, seconds_left=None))
    assert len(watch.times) == 1
