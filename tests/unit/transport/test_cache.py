"""Kept traces: the same numbers, found by what matters, and never in the way."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import paneglow
from paneglow.scene import Slab
from paneglow.transport import TraceCache, cpu, trace
from paneglow.transport.cache import PART_PREFIX, TRACE_ENDING, TRIAL_ENDING, trace_key
from paneglow.transport.plan import find_places
from slab_scenes import lambertian, one_coat, slab_scene

PHOTONS = 1_600


def board_like():
    scene = slab_scene(
        optical_depth=4.0, albedo=0.98, asymmetry=0.6, refractive_index=1.55, emitter=lambertian(at_z_mm=-0.2),
        classes=one_coat(transmit=0.5),
    )  # fmt: skip
    second = replace(scene.emitters[0], ref="E2", size_mm=(0.5, 0.5))
    return replace(scene, emitters=(scene.emitters[0], second))


def keys(scene, *, photons=PHOTONS, seed=1, stage=0):
    places = find_places(scene, seed=1)
    return tuple(
        trace_key(place.digest, photons=int(photons * place.extra), seed=seed, device="cpu", stage=stage)
        for place in places
    )


def traced(scene, cache, **changes):
    return trace(scene, **{"photons_per_led": PHOTONS, "seed": 1, "cache": cache, **changes})


def kept_files(cache):
    return sorted(cache.folder.glob(f"*{TRACE_ENDING}"))


def kept_trials(cache):
    return sorted(cache.folder.glob(f"*{TRIAL_ENDING}"))


def test_a_kept_trace_is_the_same_numbers(tmp_path):
    cache = TraceCache(folder=tmp_path / "traces")
    without, first, second = (traced(board_like(), use) for use in (None, cache, cache))
    for made, kept in zip(first.leds, second.leds, strict=True):
        np.testing.assert_array_equal(made.xyz, kept.xyz)
        np.testing.assert_array_equal(made.batches, kept.batches)
        np.testing.assert_array_equal(made.fates.front, kept.fates.front)
        np.testing.assert_array_equal(made.fates_se.absorbed, kept.fates_se.absorbed)
        assert (made.ref, made.photons) == (kept.ref, kept.photons)
    np.testing.assert_array_equal(without.leds[1].xyz, second.leds[1].xyz)
    assert len(kept_files(cache)) == 2


def test_nothing_is_traced_where_all_is_kept(tmp_path, monkeypatch):
    cache = TraceCache(folder=tmp_path)
    traced(board_like(), cache)

    def refuse(*_args, **_keywords):
        raise AssertionError("traced again")

    monkeypatch.setattr("paneglow.transport.cpu.trace_jobs", refuse)
    traced(board_like(), cache)


def moved(scene):
    return replace(scene, emitters=(scene.emitters[0], replace(scene.emitters[1], centre_mm=(0.1, 0.0, -0.2))))


def test_a_moved_led_is_traced_and_the_others_are_kept(tmp_path):
    cache = TraceCache(folder=tmp_path)
    traced(board_like(), cache)
    traced(moved(board_like()), cache)
    assert len(kept_files(cache)) == 3


MATTERS = {
    "thickness": lambda scene: replace(scene, thickness_mm=2.0),
    "index": lambda scene: replace(scene, refractive_index=1.5),
    "asymmetry": lambda scene: replace(scene, asymmetry=0.5),
    "faces": lambda scene: replace(scene, front=scene.front + np.uint8(1)),
    "coats": lambda scene: replace(scene, classes=replace(scene.classes, transmit=scene.classes.transmit * 0.9)),
    "view": lambda scene: replace(scene, view_angle_rad=0.3),
    "map": lambda scene: replace(scene, map_grid=replace(scene.map_grid, pitch_mm=5e5)),
    "slab": lambda scene: replace(
        scene, slabs=(*scene.slabs, Slab(name="more", scatter_per_mm=1.0, absorb_per_mm=np.array([0.1])))
    ),
}


@pytest.mark.parametrize("name", MATTERS)
def test_whatever_matters_changes_every_key(name):
    before, after = keys(board_like()), keys(MATTERS[name](board_like()))
    assert not set(before) & set(after)


def test_photons_and_seed_change_every_key():
    assert not set(keys(board_like())) & set(keys(board_like(), seed=2))
    assert not set(keys(board_like())) & set(keys(board_like(), photons=3_200))
    assert not set(keys(board_like())) & set(keys(board_like(), stage=1))


def test_names_and_flux_do_not_matter():
    scene = board_like()
    renamed = tuple(
        replace(emitter, ref=f"X{n}", window="other", flux_lm=7.0, flux_lm_low=6.0, flux_lm_high=8.0)
        for n, emitter in enumerate(scene.emitters)
    )
    assert keys(scene) == keys(replace(scene, emitters=renamed))


@pytest.mark.parametrize("content", [b"", b"not a trace", b"PK\x03\x04 cut short"])
def test_a_broken_file_is_a_trace_to_be_made_again(tmp_path, content):
    cache = TraceCache(folder=tmp_path)
    first = traced(board_like(), cache)
    for path in kept_files(cache):
        path.write_bytes(content)
    second = traced(board_like(), cache)
    np.testing.assert_array_equal(first.leds[0].xyz, second.leds[0].xyz)
    third = TraceCache(folder=tmp_path).load(keys(board_like())[0])
    assert third is not None, "the broken file was replaced"


def test_a_trace_with_any_byte_changed_or_cut_off_is_made_again_and_never_believed(tmp_path):
    cache = TraceCache(folder=tmp_path)
    traced(board_like(), cache)
    for path, load in ((kept_files(cache)[0], cache.load), (kept_trials(cache)[0], cache.load_trial)):
        whole = path.read_bytes()
        rng = np.random.default_rng(3)
        for place in rng.choice(len(whole), size=min(300, len(whole)), replace=False).tolist():
            flipped = bytearray(whole)
            flipped[place] ^= 1 << int(rng.integers(8))
            for damaged in (bytes(flipped), whole[:place]):
                path.write_bytes(damaged)
                assert load(path.stem) is None
        path.write_bytes(whole)
        assert load(path.stem) is not None


def test_a_trace_under_the_name_of_another_is_not_taken_for_it(tmp_path):
    cache = TraceCache(folder=tmp_path)
    traced(board_like(), cache)
    first, second = kept_files(cache)
    second.write_bytes(first.read_bytes())
    assert cache.load(second.stem) is None


def test_trials_are_kept_too_and_made_again_where_broken(tmp_path, monkeypatch):
    cache = TraceCache(folder=tmp_path)
    places = find_places(board_like(), seed=1, cache=cache)
    files = kept_trials(cache)
    files[0].write_bytes(b"not a trial")
    made = []
    trace_emitter = cpu.trace_emitter
    monkeypatch.setattr(cpu, "trace_emitter", lambda *args, **keys: made.append(1) or trace_emitter(*args, **keys))
    again = find_places(board_like(), seed=1, cache=cache)
    assert [place.extra for place in again] == [place.extra for place in places]
    assert len(files) == 2
    assert len(made) == 1, "only the broken one; a whole board needs no look at its border"
    find_places(board_like(), seed=2, cache=cache)
    assert len(kept_trials(cache)) == 4, "another seed has trials of its own"


def test_the_least_recently_used_are_dropped(tmp_path):
    cache = TraceCache(folder=tmp_path)
    traced(board_like(), cache)
    size = max(path.stat().st_size for path in kept_files(cache))
    of_trials = sum(path.stat().st_size for path in kept_trials(cache)) * 3 // 2  # the moved LED has one as well
    small = TraceCache(folder=tmp_path, size_limit_bytes=2 * size + of_trials + 10)
    old, recent = keys(board_like())
    assert small.load(old) is not None  # used just now, so the other one goes first
    traced(moved(board_like()), small)
    assert small.load(recent) is None
    assert small.load(old) is not None


def test_a_kill_while_writing_leaves_no_half_trace(tmp_path, monkeypatch):
    cache = TraceCache(folder=tmp_path)

    def killed(*_names):
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", killed)  # all is written, and does not yet bear its name
    with pytest.raises(KeyboardInterrupt):
        traced(board_like(), cache)
    assert kept_files(cache) == []
    assert list(tmp_path.glob(f"{PART_PREFIX}*")) == []


def test_a_folder_that_cannot_be_written_is_no_reason_to_stop(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    tally = traced(board_like(), TraceCache(folder=blocked / "traces"))
    assert len(tally.leds) == 2


# Run by two processes at once: keeps and looks for the same five traces in a folder too small for them
KEEP_MANY = """
import sys
from pathlib import Path

import numpy as np

from paneglow.transport import TraceCache

light = TraceCache(folder=Path(sys.argv[1])).load(sys.argv[3])
cache = TraceCache(folder=Path(sys.argv[2]), size_limit_bytes=20_000)
for turn in range(30):
    cache.keep(f"{turn % 5:064d}", light)
    found = cache.load(f"{(turn + 2) % 5:064d}")
    assert found is None or np.array_equal(found.xyz, light.xyz)
"""


def test_two_processes_share_a_folder(tmp_path):
    source, shared = tmp_path / "source", tmp_path / "shared"
    traced(board_like(), TraceCache(folder=source))
    key = keys(board_like())[0]
    environment = {**os.environ, "PYTHONPATH": str(Path(paneglow.__file__).parents[1])}
    workers = [
        subprocess.Popen([sys.executable, "-c", KEEP_MANY, source, shared, key], env=environment) for _ in range(2)
    ]
    assert [worker.wait(timeout=120) for worker in workers] == [0, 0]
