"""The code that moves photons is the one that `make proof` has proven with all photons."""

import csv
import re

import proof
from sampling_checks import MEANS


def kept():
    lines = proof.KEPT.read_text(encoding="utf-8").splitlines()
    return lines[0], list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_what_moves_photons_has_been_proven():
    stated = re.fullmatch(r"# digest ([0-9a-f]{64})", kept()[0])[1]
    assert stated == proof.digest(), (
        "code that moves photons has changed: run `make proof`, some 10 minutes, and commit"
    )


def test_the_means_are_no_more_than_their_family_is_stated_to_hold():
    rows = kept()[1]
    assert 200 < len(rows) <= MEANS
