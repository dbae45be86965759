"""Row of the speed table for re-asking: one trace of a window, then answers for LEDs that were not there.

`response_speed.py` traces a 12 x 12 mm window in 1.6 mm laminate once, asks for random LEDs (place, attitude, gap,
pattern, current, absorption) on every core, and compares answers with fresh fine traces of the same LEDs. With
`--scatter 0.1` it carries scattering within 10 % instead, and asks for five steps of it.
"""

import argparse
import math
import os
import platform
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter

from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import Emitter, FaceClasses, Scene, Slab
from paneglow.transport import ReadyResponse, ResponseEffort, ask_response, ready_response, trace, trace_response

SIDE_MM, RIM_MM, RASTER_MM, PIXEL_MM = 12.0, 4.0, 0.05, 0.2
DARK, BRIGHT = 2.0, 98.0  # percentiles of evenness
BLUR_PX = 1.0  # about the eye's at 400 mm
TURN = 2.0 * math.pi
# How an attitude holds its emitter: tilt of the axis to the normal [deg], gap to the laminate [mm]
ATTITUDES = {"lens-down": (0.0, 0.03), "reverse": (0.0, 0.15), "side-view": (90.0, 0.5), "carrier": (0.0, 3.0)}
HALF_ANGLES_DEG = (30.0, 60.0)
EVEN_STEPS_MM = (4.5, 5.0)
EVEN_ATTITUDES = ("carrier", "reverse")


@dataclass(frozen=True, slots=True, kw_only=True)
class Laminate:
    """Scattering, absorption [1/mm] and thickness [mm] of one case; index 1.55 and asymmetry 0.8 throughout."""

    name: str
    scatter_per_mm: float
    absorb_per_mm: float
    thickness_mm: float = 1.6


LAMINATES = (
    Laminate(name="catalogue's unknown, amber", scatter_per_mm=7.5, absorb_per_mm=0.04),
    Laminate(name="catalogue's unknown, blue", scatter_per_mm=7.5, absorb_per_mm=0.25),
    Laminate(name="catalogue's pale, green", scatter_per_mm=6.0, absorb_per_mm=0.03),
    Laminate(name="thin and weakly scattering", scatter_per_mm=2.5, absorb_per_mm=0.03, thickness_mm=0.8),
)


def window_scene(laminate: Laminate) -> Scene:
    """A square window in copper on both faces."""
    n = round((SIDE_MM + 2.0 * RIM_MM) / RASTER_MM)
    rim = round(RIM_MM / RASTER_MM)
    face = np.ones((n, n), dtype=np.uint8)
    face[rim : n - rim, rim : n - rim] = 0
    low = -0.5 * SIDE_MM
    pixels = round(SIDE_MM / PIXEL_MM)
    absorb = np.array([laminate.absorb_per_mm])
    return Scene(
        grid=Grid(x_min_mm=low - RIM_MM, y_min_mm=low - RIM_MM, pitch_mm=RASTER_MM, n_x=n, n_y=n),
        front=face,
        back=face.copy(),
        body=np.zeros_like(face),
        classes=FaceClasses(
            names=("bare", "copper"),
            transmit=np.array([[1.0], [0.0]]),
            reflect=np.array([[0.0], [0.25]]),
            haze=np.zeros(2),
            backing_reflect=np.zeros((2, 1)),
        ),
        wavelength_nm=np.array([590.0]),
        thickness_mm=laminate.thickness_mm,
        refractive_index=1.55,
        asymmetry=0.8,
        slabs=(Slab(name="nominal", scatter_per_mm=laminate.scatter_per_mm, absorb_per_mm=absorb),),
        emitters=(),
        view_angle_rad=0.0,
        map_grid=Grid(x_min_mm=low, y_min_mm=low, pitch_mm=PIXEL_MM, n_x=pixels, n_y=pixels),
    )


def led(
    attitude: str, *, at_mm: tuple[float, float], turn_rad: float, half_angle_deg: float = 60.0, flux_lm: float = 1.0
) -> Emitter:
    """A 0.8 x 0.5 mm emitter."""
    tilt_deg, gap_mm = ATTITUDES[attitude]
    tilt = math.radians(tilt_deg)
    cosine, sine = math.cos(turn_rad), math.sin(turn_rad)
    table = cosine_power_table(math.radians(half_angle_deg))
    return Emitter(
        ref=attitude,
        window=None,
        centre_mm=(*at_mm, -gap_mm),
        axis=(math.sin(tilt) * cosine, math.sin(tilt) * sine, math.cos(tilt)),
        u=(-sine, cosine, 0.0),
        v=(-math.cos(tilt) * cosine, -math.cos(tilt) * sine, math.sin(tilt)),
        size_mm=(0.8, 0.5),
        cos_table=table.cos_table,
        cdf_table=table.cdf_table,
        intensity_table=table.intensity_table,
        nodes=np.array([0]),
        xyz_per_lm=np.ones((1, 3)),
        flux_lm=flux_lm,
        flux_lm_low=flux_lm,
        flux_lm_high=flux_lm,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """LEDs, an absorption, and a scattering as a share of the traced one."""

    emitters: tuple[Emitter, ...]
    absorb_per_mm: float
    scatter_frac: float = 1.0


def random_question(random: np.random.Generator, *, laminate: Laminate, n_leds: int, attitude: str) -> Question:
    """LEDs behind the window, its rim included, at random currents and one absorption for all.

    Each anywhere within its own tile of the window: one LED within all of it, nine within a ninth each.
    """
    per_side = round(math.sqrt(n_leds))
    tile = SIDE_MM / per_side
    corners = [-0.5 * SIDE_MM + tile * i for i in range(per_side)]
    return Question(
        emitters=tuple(
            led(
                attitude,
                at_mm=(x + float(random.uniform(0.0, tile)), y + float(random.uniform(0.0, tile))),
                turn_rad=float(random.uniform(0.0, TURN)),
                half_angle_deg=float(random.choice(HALF_ANGLES_DEG)),
                flux_lm=float(random.uniform(0.5, 2.0)),
            )
            for x in corners
            for y in corners
        ),
        absorb_per_mm=laminate.absorb_per_mm * float(np.exp(random.uniform(-math.log(3.0), math.log(3.0)))),
    )


def even_question(random: np.random.Generator, *, laminate: Laminate, attitude: str) -> Question:
    """Nine LEDs in rows, as a designer would place them for an even window, each up to 0.4 mm off."""
    step = float(random.choice(EVEN_STEPS_MM))
    places = [(step * i, step * j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
    return Question(
        emitters=tuple(
            led(
                attitude,
                at_mm=(x + float(random.uniform(-0.4, 0.4)), y + float(random.uniform(-0.4, 0.4))),
                turn_rad=float(random.uniform(0.0, TURN)),
            )
            for x, y in places
        ),
        absorb_per_mm=laminate.absorb_per_mm,
    )


def evenness(luminance: npt.NDArray[np.floating]) -> tuple[float, float]:
    """2nd over 98th percentile after the eye's blur, and the 98th."""
    dark, bright = np.percentile(gaussian_filter(np.asarray(luminance, dtype=np.float64), BLUR_PX), [DARK, BRIGHT])
    return float(dark / bright), float(bright)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """An answer against a fresh trace: relative errors of the mean and the bright percentile, error of evenness."""

    mean: float
    mean_se: float
    bright: float
    evenness: float
    traced_evenness: float


def compare(scene: Scene, *, ready: ReadyResponse, question: Question, photons: int, seed: int) -> Comparison:
    """Ask, trace anew, compare."""
    absorb = np.array([question.absorb_per_mm])
    scatter_per_mm = scene.slabs[0].scatter_per_mm * question.scatter_frac
    slab = replace(scene.slabs[0], absorb_per_mm=absorb, scatter_per_mm=scatter_per_mm)
    tally = trace(replace(scene, slabs=(slab,), emitters=question.emitters), photons_per_led=photons, seed=seed)
    lights = zip(tally.leds, question.emitters, strict=True)
    batches = sum(light.batches[0].astype(np.float64) * emitter.flux_lm for light, emitter in lights)
    of_batch = np.asarray(batches).mean(axis=(1, 2))
    mean = float(of_batch.mean())
    mean_se = float(of_batch.std(ddof=1)) / math.sqrt(of_batch.size)
    answer = ask_response(ready, emitters=question.emitters, absorb_per_mm=absorb, scatter_per_mm=scatter_per_mm)
    traced, traced_bright = evenness(np.asarray(batches).mean(axis=0))
    asked, asked_bright = evenness(answer.xyz[1])
    return Comparison(
        mean=answer.mean_cd_m2 / mean - 1.0,
        mean_se=math.hypot(mean_se, answer.mean_cd_m2_se) / mean,
        bright=asked_bright / traced_bright - 1.0,
        evenness=asked - traced,
        traced_evenness=traced,
    )


def answers_per_second(ready: ReadyResponse, *, laminate: Laminate, n_threads: int, count: int) -> float:
    """Answers of one LED each, everything new each time."""
    random = np.random.default_rng(11)
    styles = tuple(ATTITUDES)
    questions = [
        random_question(random, laminate=laminate, n_leds=1, attitude=styles[i % len(styles)]) for i in range(count)
    ]

    def ask(question: Question) -> None:
        ask_response(ready, emitters=question.emitters, absorb_per_mm=np.array([question.absorb_per_mm]))

    ask(questions[0])
    started, worked = time.perf_counter(), time.process_time()
    with ThreadPoolExecutor(max_workers=n_threads) as pool:
        list(pool.map(ask, questions))
    taken, worked = time.perf_counter() - started, time.process_time() - worked
    print(f"  {1e3 * worked / count:.1f} ms of processor per answer")
    return count / taken


def print_comparisons(scene: Scene, *, ready: ReadyResponse, laminate: Laminate, count: int, photons: int) -> None:
    """Worst of `count` single LEDs, and of a quarter as many layouts of nine, scattered and in rows."""
    random = np.random.default_rng(3)
    styles = tuple(ATTITUDES)
    fewer = 0 if count == 1 else max(2, count // 4)  # a single case shows one LED only

    def scattered(n_leds: int, case: int) -> Question:
        return random_question(random, laminate=laminate, n_leds=n_leds, attitude=styles[case % len(styles)])

    kinds = {
        "1 LED": [scattered(1, case) for case in range(count)],
        "9 LEDs": [scattered(9, case) for case in range(fewer)],
        "9 LEDs in rows": [
            even_question(random, laminate=laminate, attitude=EVEN_ATTITUDES[case % len(EVEN_ATTITUDES)])
            for case in range(fewer)
        ],
    }
    for name, questions in kinds.items():
        if not questions:
            continue
        per_led = photons // round(math.sqrt(len(questions[0].emitters)))
        found = [
            compare(scene, ready=ready, question=question, photons=per_led, seed=100 + case)
            for case, question in enumerate(questions)
        ]
        print_worst(name, found=found)


def print_scattering(laminate: Laminate, *, span_frac: float, photons: int, n_threads: int) -> None:
    """Two LEDs in a response that carries scattering, over five steps of it, and what a step leaves to count."""
    scene = window_scene(laminate)
    lights = (
        led("reverse", at_mm=(0.7, -1.1), turn_rad=0.3),
        led("carrier", at_mm=(-3.0, 4.2), turn_rad=0.0, half_angle_deg=30.0),
    )
    response = trace_response(
        scene, grid=scene.map_grid, seed=1, lights=lights[:1], n_threads=n_threads,
        effort=ResponseEffort(scatter_span_frac=span_frac),
    )  # fmt: skip
    ready = ready_response(response)
    left = ", ".join(f"{count / response.effective[1]:.0%}" for count in response.effective)
    print(f"{laminate.name}, scattering carried within {span_frac:.0%}: trace {response.seconds:.1f} s")
    print(f"  effective photons left at the least, the traced and the greatest scattering: {left}")
    for step in np.linspace(1.0 - span_frac, 1.0 + span_frac, 5):
        question = Question(emitters=lights, absorb_per_mm=laminate.absorb_per_mm, scatter_frac=float(step))
        print_worst(
            f"2 LEDs, scattering x {step:.2f}",
            found=[compare(scene, ready=ready, question=question, photons=photons, seed=100)],
        )


def print_worst(name: str, *, found: list[Comparison]) -> None:
    """One line about the worst of several comparisons."""
    worst_mean = max(found, key=lambda one: abs(one.mean))
    evens = sorted(one.traced_evenness for one in found)
    chance = math.sqrt(sum((one.mean / one.mean_se) ** 2 for one in found) / len(found))
    print(
        f"  {len(found):3d} x {name}: mean within {abs(worst_mean.mean):.1%} (its error {worst_mean.mean_se:.1%}, "
        f"rms z {chance:.2f}), evenness within {max(abs(one.evenness) for one in found):.3f} "
        f"(it is {evens[0]:.2f} to {evens[-1]:.2f}), 98th percentile within "
        f"{max(abs(one.bright) for one in found):.1%}"
    )


def main() -> None:
    """Print the row and the worst cases."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=20, help="single LEDs compared per laminate (default 20)")
    parser.add_argument("--photons", type=int, default=200_000, help="photons of a fresh trace (default 200000)")
    parser.add_argument("--answers", type=int, default=200, help="answers timed (default 200)")
    parser.add_argument("--laminate", type=int, default=None, help="one laminate of the list (default all)")
    parser.add_argument("--threads", type=int, default=os.cpu_count(), help="threads (default one per core)")
    parser.add_argument("--scatter", type=float, default=None, help="carry scattering within this share instead")
    arguments = parser.parse_args()
    print(f"{arguments.threads} threads, {platform.machine()}, Python {platform.python_version()}")
    warm = window_scene(LAMINATES[0])
    light = (led("reverse", at_mm=(0.0, 0.0), turn_rad=0.0),)
    quick = ResponseEffort(spread_photons=1000, difference_photons=1000)
    ready_response(trace_response(warm, grid=warm.map_grid, seed=1, lights=light, effort=quick))
    chosen = LAMINATES if arguments.laminate is None else LAMINATES[arguments.laminate :][:1]
    for laminate in chosen:
        if arguments.scatter is not None:
            print_scattering(
                laminate, span_frac=arguments.scatter, photons=arguments.photons, n_threads=arguments.threads
            )
            continue
        scene = window_scene(laminate)
        asked = (laminate.absorb_per_mm / 3.0, laminate.absorb_per_mm * 3.0)
        worked = time.process_time()
        response = trace_response(
            scene, grid=scene.map_grid, seed=1, lights=light, absorb_range_per_mm=asked, n_threads=arguments.threads
        )
        worked = time.process_time() - worked
        ready = ready_response(response)
        rate = answers_per_second(ready, laminate=laminate, n_threads=arguments.threads, count=arguments.answers)
        size = (response.spread.table.nbytes + response.difference.table.nbytes) / 1e6
        print(
            f"{laminate.name}: trace {response.seconds:.1f} s ({worked:.1f} s of processor), {size:.0f} MB,"
            f" {rate:.0f} answers per second"
        )
        if arguments.cases:
            print_comparisons(scene, ready=ready, laminate=laminate, count=arguments.cases, photons=arguments.photons)


if __name__ == "__main__":
    main()
