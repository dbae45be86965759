import pytest

from paneglow.drive.circuit import build_chip, read_chips
from paneglow.errors import DesignError


@pytest.mark.parametrize("code", list(read_chips()))
def test_the_weak_end_of_a_chip_bends_more_and_carries_no_more(code):
    weak, usual = build_chip(code, end="low"), build_chip(code)
    assert weak.high_ohm > usual.high_ohm
    assert weak.low_ohm > usual.low_ohm
    assert weak.pin_max_ma <= usual.pin_max_ma
    assert weak.standing_ma > usual.standing_ma
    assert all(len(text) > 40 for text, _ in usual.origins)  # sources are spelt out, not left as words


def test_limits_of_a_generic_eight_bit_part():
    # 10 to 20 mA a pin by design, 200 mA a chip (common practice, from memory)
    chip = build_chip("cmos-8bit")
    assert 10.0 <= chip.pin_max_ma <= 20.0
    assert chip.chip_max_ma == 200.0


def test_a_misspelt_chip_is_refused_with_the_nearest():
    with pytest.raises(DesignError, match="nearest is cmos-8bit"):
        build_chip("cmos-8")
