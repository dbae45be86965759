"""What `make mutants` recorded: every change that no test noticed is explained, or a test is written."""

import mutants


def test_every_recorded_survivor_is_explained():
    unexplained = [
        f"{room}: {row['file']} {row['function']}: {row['before']} -> {row['after']}"
        for room in mutants.ROOMS
        for row in mutants.read_records(room)
        if not row["explanation"].strip()
    ]
    assert unexplained == []
