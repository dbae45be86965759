"""Which device light is traced on."""

import pytest

from paneglow.errors import MissingExtraError
from paneglow.transport import choose_device, devices


def without_gpu(monkeypatch):
    monkeypatch.setattr(devices, "find_obstacle", lambda: "no NVIDIA GPU was found")


@pytest.mark.parametrize("wanted", ["cpu", "auto"])
def test_the_cpu_needs_no_look_for_a_gpu(monkeypatch, wanted):
    monkeypatch.setattr(devices, "find_obstacle", lambda: pytest.fail("looked for a GPU"))
    assert choose_device(wanted) == "cpu"


def test_a_usable_gpu_is_taken_where_it_is_asked_for(monkeypatch):
    monkeypatch.setattr(devices, "find_obstacle", lambda: None)
    assert choose_device("cuda") == "cuda"


def test_a_missing_gpu_that_is_asked_for_is_one_line_with_its_reason(monkeypatch):
    without_gpu(monkeypatch)
    with pytest.raises(MissingExtraError, match=r"no NVIDIA GPU was found; use --device cpu") as caught:
        choose_device("cuda")
    assert "\n" not in str(caught.value)


def test_a_missing_library_is_named_with_how_to_get_it(monkeypatch):
    monkeypatch.setattr(devices, "find_spec", lambda _name: None)
    assert "pip install 'paneglow[gpu]'" in devices.find_obstacle()
