"""A sample of `make fuzz`: a few seeded damaged files into every reader, each read or refused in one short message."""

import random
import time

import pytest

import fuzz
from paneglow.errors import GerberError
from paneglow.fab import parse_gerber

SECONDS = 0.5  # for each reader; an hour is `make fuzz`
LEAST_CASES = 3


@pytest.fixture(scope="module")
def targets(tmp_path_factory):
    return {target.name: target for target in fuzz.build_targets(tmp_path_factory.mktemp("fuzz"))}


NAMES = ("gerber", "outline", "drill", "placement", "netlist", "design", "parts", "cost", "trace", "ies", "ldt")


def test_every_reader_has_a_target(targets):
    assert tuple(targets) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_the_texts_that_cases_start_from_are_read(name, targets):
    for content in targets[name].seeds[:10]:
        targets[name].read(content)


@pytest.mark.parametrize("name", NAMES)
def test_damaged_files_are_read_or_refused(name, targets):
    end = time.monotonic() + SECONDS
    for count, content in enumerate(fuzz.cases(targets[name], dice=random.Random(f"sample {name}")), start=1):
        failure = fuzz.try_case(targets[name], content, with_memory=False)
        assert failure is None, f"{failure.why}: {failure.content[:200]!r}"
        if time.monotonic() > end and count >= LEAST_CASES:
            break


def test_what_goes_wrong_is_told():
    def raise_key_error(content):
        raise KeyError(content)

    broken = fuzz.Target(name="broken", seeds=(b"1",), read=raise_key_error)
    failure = fuzz.try_case(broken, b"1")
    assert failure is not None
    assert "KeyError" in failure.why


# Small files that once ended in another exception
@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("gerber", "%FSLAX46Y46*%%MOMM*%%ADD11C,2X.0001*%D11*X0Y0D03*M02*"),
        ("gerber", "%FSLAX46Y46*%%MOMM*%%ADD11C,2X9999999999999*%D11*X0Y0D03*M02*"),
        ("gerber", "%FSLAX46Y46*%%MOMM*%%ADD10C,1*%D10*X0Y0D02*G75*G02X1Y1I9999999999999J0D01*M02*"),
        ("netlist", fuzz.NETLIST.replace("A02", "A0\u00b2")),
        ("trace", ""),
        ("ldt", fuzz.LDT.replace("90", "1e400")),  # one of its counts becomes infinite
    ],
)
def test_cases_that_were_found_stay_read_or_refused(name, content, targets):
    assert fuzz.try_case(targets[name], content.encode("latin-1"), with_memory=False) is None


def macro(code):
    return f"%FSLAX46Y46*%%MOMM*%%AMA*{code},1,3,0,0*%%ADD10A*%D10*X0Y0D03*M02*"


def test_signs_that_python_strips_but_cannot_count_stop_no_reader():
    # Found by make fuzz, seed 11: a file separator behind the code of a primitive
    (flash,) = parse_gerber(macro("1\x1c"), path="layer.gbr").objects
    assert flash.shape.disc_mm == 3.0
    with pytest.raises(GerberError, match="neither a primitive"):
        parse_gerber(macro("\u00b2"), path="layer.gbr")
