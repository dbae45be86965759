"""Defects, one table entry each: what is done to which design, and what must be said of it.

To add one: choose a folder of `folders.FOLDERS`, write what is done to it with the methods of `Folder`, and what the
finding must be: its code, subject and severity, words of its reason and of its remedy. Nothing else is needed.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

from defects.folders import Folder

LEDS = {
    "D1": (13.0, 57.0),
    "D3": (20.241, 57.86),
    "D5": (28.5, 43.05),
    "D8": (38.7, 35.2),
    "D9": (43.9, 39.4),
    "D12": (46.0, 15.6),
    "D14": (7.63, 20.33),
    "D15": (7.3, 10.6),
    "D16": (52.5, 10.2),
}


@dataclass(frozen=True, kw_only=True)
class Defect:
    """One defect and the finding that it must bring."""

    folder: str
    name: str
    make: Callable[[Folder], object]
    code: str
    subject: str
    severity: str = "error"
    says: tuple[str, ...] = ()  # words of the reason
    remedy: tuple[str, ...] = ()  # words of the remedy
    near_mm: tuple[float, float] | None = None  # place, where it is not that of the subject


def harbour(name, make, code, subject, **rest):
    return Defect(folder="harbour", name=name, make=make, code=code, subject=subject, **rest)


def _each(refs, name, make, code, **rest):
    return tuple(harbour(f"{name} {ref}", lambda folder, ref=ref: make(folder, ref), code, ref, **rest) for ref in refs)


TURNED_ROWS = (
    *_each(
        ("D1", "D2", "D5", "D8", "D12", "D14", "D15", "D16"),
        "turned by half",
        lambda folder, ref: folder.row(ref, turn=180.0),
        "led-reversed",
        says=("anode", "positive side"),
        remedy=("180 deg", "placement file"),
    ),
    *_each(
        ("D1", "D9", "D16"),
        "turned by a quarter",
        lambda folder, ref: folder.row(ref, turn=90.0),
        "land-missing",
        says=("bare copper",),
        remedy=("rotation",),
    ),
    *_each(
        ("R1", "R5", "R11"),
        "turned by a quarter",
        lambda folder, ref: folder.row(ref, turn=90.0),
        "part-across-its-lands",
        says=("deg off the line",),
        remedy=("rotation of its row",),
    ),
    *_each(
        ("D3", "D10"),
        "on the other face",
        lambda folder, ref: folder.row(ref, side="Top"),
        "land-missing",
        says=("while this LED is put on the front",),
        remedy=("Correct its side",),
    ),
    *_each(
        ("D4", "D12"),
        "moved by 5 mm",
        lambda folder, ref: folder.row(ref, move=(0.0, -5.0)),
        "land-missing",
        remedy=("place or rotation",),
    ),
)


def _rule(line):
    return lambda folder: folder.board(line)


WRONG_RULES = (
    harbour(
        "anodes at the left",
        _rule('placement_zero = "anode-left"'),
        "placement-misread",
        "D1",
        says=("16 rows of the placement file", "cathode at the left"),
        remedy=("placement_zero = ",),
    ),
    harbour(
        "seen turned over",
        _rule('placement_bottom = "turned-left-right"'),
        "placement-misread",
        "D1",
        says=("looked at through the board",),
        remedy=('placement_bottom = "through-front',),
    ),
    harbour(
        "rails swapped",
        lambda folder: (
            folder.design('polarity = "positive"', 'polarity = "other"'),
            folder.design('polarity = "negative"', 'polarity = "positive"'),
            folder.design('polarity = "other"', 'polarity = "negative"'),
        ),
        "placement-misread",
        "D1",
        says=("rails of the design",),
        remedy=("or correct the rails",),
    ),
    harbour(
        "no rails",
        lambda folder: folder.design_file.write_text(
            re.sub(r"(?s)\[\[rail\]\].*?(?=\[supply\])", "", folder.design_file.read_text())
        ),
        "polarity-not-told",
        "D1",
        severity="warning",
        says=("Nothing tells which copper",),
        remedy=("[[rail]]",),
    ),
)

BAR_D9 = (40.85, 39.4)  # middle of its bar of ink, at the cathode; the anode's end lies as far to the right
LEGEND = (
    harbour(
        "bar erased",
        lambda folder: folder.draw("legend-back", (40.85, 38.6), (40.85, 40.2), width=0.6, clear=True),
        "legend-mark-missing",
        "D9",
        severity="warning",
        says=("neither end", "D9"),
        remedy=("bar or dot", "cathode"),
    ),
    harbour(
        "bar at both ends",
        lambda folder: folder.draw("legend-back", (46.95, 38.8), (46.95, 40.0), width=0.2),
        "legend-mark-missing",
        "D9",
        severity="warning",
        says=("both ends", "D9"),
    ),
    harbour(
        "bar at the anode",
        lambda folder: (
            folder.draw("legend-back", (40.85, 38.6), (40.85, 40.2), width=0.6, clear=True),
            folder.draw("legend-back", (46.95, 38.8), (46.95, 40.0), width=0.2),
        ),
        "legend-mark-disagrees",
        "D9",
        says=("anode",),
        remedy=("legend_mark",),
    ),
    harbour(
        "ink means the anode",
        _rule('legend_mark = "anode"'),
        "legend-mark-disagrees",
        "D1",
        remedy=("legend_mark",),
    ),
    harbour(
        "mark of another revision",
        lambda folder: folder.part(
            "hk-reverse-amber", 'at_mm = [-1.4, 0.7], terminal = "C"', 'at_mm = [1.4, 0.7], terminal = "A"'
        ),
        "mark-against-legend",
        "D1",
        says=("notch", "anode", "reversed"),
        remedy=("meter",),
    ),
    harbour(
        "side-view mark at the anode",
        lambda folder: folder.part(
            "hk-side-amber", 'at_mm = [-1.3, 0.0], terminal = "C"', 'at_mm = [1.3, 0.0], terminal = "A"'
        ),
        "mark-against-legend",
        "D5",
        says=("stripe", "D5, D6, D7"),
    ),
    harbour(
        "all of one style are the odd kind",
        lambda folder: (
            folder.part(
                "hk-reverse-amber", 'at_mm = [-1.4, 0.7], terminal = "C"', 'at_mm = [1.4, 0.7], terminal = "A"'
            ),
        ),
        "same-lands-opposite-marks",
        "D1",
        severity="warning",
        says=("hk-reverse-amber, hk-reverse-red", "anode", "usually"),
        remedy=("first part of every reel",),
    ),
    harbour(
        "no mark",
        lambda folder: folder.part("hk-chip-red", "mark = ", "# mark = "),
        "mark-unverified",
        "D12",
        severity="warning",
        says=("not known", "blocks release"),
        remedy=("data sheet", "meter"),
    ),
)


def _circuit(text):
    def make(folder):
        design = folder.design_file.read_text()
        design = re.sub(r"(?s)\[\[circuit\]\].*?(?=\[drive\])", text + "\n", design)
        folder.design_file.write_text(re.sub(r"(?s)\[drive.match\].*?(?=\[view\])", "", design))

    return make


GRID = ", ".join(
    f"[{', '.join(f'{chr(34)}D{4 * row + column + 1}{chr(34)}' for column in range(4))}]" for row in range(4)
)
MATRIX = f"""[[circuit]]
driver = "matrix"
rows = ["P1", "P2", "P3", "P4"]
columns = ["P5", "P6", "P7", "P8"]
grid = [{GRID}]
resistor_ohm = [1000]
cycle_hz = 500
"""
RING = ", ".join(f'"D{number}"' for number in range(1, 17))
CHARLIEPLEX = f"""[[circuit]]
driver = "charlieplex"
pins = ["P1", "P2", "P3", "P4", "P5"]
refs = [{RING}]
resistor_ohm = [1000]
cycle_hz = 500
"""
SERIES = """[[circuit]]
driver = "rail"
strings = [["D8", "D12"], ["D1"], ["D2"], ["D3"], ["D4"], ["D5"], ["D6"], ["D7"], ["D9"], ["D10"], ["D11"], ["D13"],
    ["D14"], ["D15"], ["D16"]]
resistor_ohm = [4700]
"""

CHAIN = (
    harbour(
        "resistor bypassed by copper",
        lambda folder: (
            folder.draw("copper-back", (32.45, 43.05), width=1.1, clear=True),
            folder.draw("copper-back", (31.65, 43.05), (33.25, 43.05), width=0.3),
        ),
        "resistor-bypassed",
        "R5",
        says=("D5", "R5 of 5100 ohm"),
        remedy=("Part the copper",),
    ),
    harbour(
        "resistor bypassed round its land",
        lambda folder: (
            folder.draw("copper-back", (51.1, 29.2), (51.1, 30.2), (52.7, 30.2), (52.7, 29.2), width=1.0, clear=True),
            folder.draw("copper-back", (51.1, 28.7), (51.1, 30.2), (52.7, 30.2), (52.7, 28.7), width=0.3),
        ),
        "resistor-bypassed",
        "R11",
        says=("D11",),
    ),
    harbour(
        "row of a resistor missing",
        lambda folder: folder.drop("R5"),
        "resistor-missing",
        "R5",
        says=("D5", "5100 ohm"),
        remedy=("Add its row",),
        near_mm=(32.45, 43.05),
    ),
    harbour(
        "row missing and not named",
        lambda folder: (
            folder.drop("R12"),
            folder.design_file.write_text(re.sub(r"(?s)resistors = \[.*?\]\n", "", folder.design_file.read_text())),
        ),
        "resistor-missing",
        "D12",
        says=("D12",),
        near_mm=(46.0, 20.2),
    ),
    *_each(
        ("R5", "R16"),
        "mask over one pad of",
        lambda folder, ref: folder.draw(
            "mask-back", {"R5": (33.25, 43.05), "R16": (52.5, 4.5)}[ref], width=1.5, clear=True
        ),
        "part-without-lands",
        says=("no two bare pads",),
        remedy=("solder mask",),
    ),
    harbour(
        "resistor beside its lands",
        lambda folder: folder.row("R13", move=(1.2, 0.6)),
        "part-without-lands",
        "R13",
        remedy=("place",),
    ),
    harbour(
        "two resistors swapped",
        lambda folder: folder.swap("R8", "R16"),
        "resistor-differs",
        "R8",
        says=("D16", "R16 of 3300 ohm"),
        remedy=("Swap the rows",),
        near_mm=(52.5, 5.3),
    ),
    harbour(
        "two resistors swapped, the other",
        lambda folder: folder.swap("R8", "R16"),
        "resistor-differs",
        "R16",
        says=("D8", "R8 of 11000 ohm"),
        near_mm=(40.0, 38.2),
    ),
    harbour(
        "value of a resistor's row",
        lambda folder: folder.row("R16", value="11k"),
        "resistor-differs",
        "R16",
        says=("11000 ohm", "3300 ohm"),
        remedy=("resistor_ohm",),
    ),
    harbour(
        "a matrix that is not routed",
        _circuit(MATRIX),
        "circuit-wired-otherwise",
        "D1",
        says=("matrix", "row P1", "column P5"),
        remedy=("[[circuit]]",),
    ),
    harbour(
        "a charlieplex that is not routed",
        _circuit(CHARLIEPLEX),
        "circuit-wired-otherwise",
        "D1",
        says=("charlieplex", "pin P1"),
    ),
    harbour(
        "in series on paper only",
        _circuit(SERIES),
        "circuit-wired-otherwise",
        "D12",
        says=("string D8, D12", "no anode of D12"),
    ),
    harbour(
        "rail at the wrong side of the switch",
        lambda folder: folder.design("at_mm = [44.0, 25.8]", "at_mm = [15.7, 21.5]"),
        "rail-reaches-no-led",
        "board",
        says=("positive rail", "(15.7, 21.5)"),
        remedy=("[[rail]]",),
        near_mm=(15.7, 21.5),
    ),
    harbour(
        "trace to the supply cut",
        lambda folder: folder.draw("copper-back", (44.0, 24.2), width=0.9, clear=True),
        "rail-reaches-no-led",
        "board",
        says=("positive rail",),
    ),
    harbour(
        "trace between LED and resistor cut",
        lambda folder: folder.draw("copper-back", (46.0, 18.4), width=1.2, clear=True),
        "led-leads-nowhere",
        "D12",
        says=("anode", "island"),
    ),
    harbour(
        "copper joins both lands",
        lambda folder: folder.draw(
            "copper-back", (36.85, 35.2), (36.85, 37.0), (40.55, 37.0), (40.55, 35.2), width=0.3
        ),
        "led-on-one-net",
        "D8",
        remedy=("Part the copper",),
    ),
)

_PAD = "length_mm = 0.5, width_mm = 1.6"
TERMINALS = (
    f'terminals = {{ pads = [{{ name = "C", role = "cathode", at_mm = [-1.35, 0.0], {_PAD} }},'
    f' {{ name = "A", role = "anode", at_mm = [1.35, 0.0], {_PAD} }}], origin = "measured", source = "own" }}'
)
LONG_BODY = (
    'terminals = { pads = [{ name = "C", role = "cathode", at_mm = [-2.6, 0.0], length_mm = 0.8, width_mm = 0.8 },'
    ' { name = "A", role = "anode", at_mm = [2.6, 0.0], length_mm = 0.8, width_mm = 0.8 }], origin = "measured",'
    ' source = "own" }'
)
LANDS = (
    *_each(
        ("D8", "D16"),
        "mask over one land of",
        lambda folder, ref: folder.draw(
            "mask-back", {"D8": (36.85, 35.2), "D16": (52.5, 12.05)}[ref], width=2.6, clear=True
        ),
        "land-missing",
        says=("bare copper",),
        remedy=("open the mask",),
    ),
    harbour(
        "land cut short",
        lambda folder: folder.draw("copper-back", (36.4, 33.8), (36.4, 36.6), width=0.7, clear=True),
        "land-short",
        "D8",
        severity="warning",
        remedy=("longer",),
    ),
    harbour(
        "a smaller part than its lands",
        lambda folder: folder.part("hk-chip-red", 'like = "tv-1206-red"', 'like = "tv-0603-red"'),
        "part-misses-lands",
        "D12",
        says=("not for hk-chip-red (D12)",),
        remedy=("1206",),
    ),
    harbour(
        "many smaller parts than their lands",
        lambda folder: folder.part("hk-chip-amber", 'like = "tv-1206-amber"', 'like = "tv-0402-amber"'),
        "part-misses-lands",
        "D2",
        says=("D2, D3, D4, D9 and 1 more", "beside them"),
        remedy=("1206 would fit",),
    ),
    harbour(
        "a larger part than its lands",
        lambda folder: folder.part("hk-side-green", 'like = "sv-1204-green"', 'like = "sv-1204-green"\n' + LONG_BODY),
        "land-overhung",
        "D15",
        says=("beyond its outer end",),
        remedy=("Move or widen the pad",),
    ),
    harbour(
        "no metal up the ends",
        lambda folder: folder.part(
            "hk-chip-red",
            'like = "tv-1206-red"',
            'like = "tv-1206-red"\n' + TERMINALS,
        ),
        "ends-without-metal",
        "D12",
        severity="warning",
        remedy=("wrap = true",),
    ),
)

PLACES = (
    harbour(
        "LED off its window",
        lambda folder: folder.design('window = "port"', 'window = "starboard"'),
        "led-off-its-window",
        "D12",
        says=("starboard",),
        remedy=("Move it",),
    ),
    harbour(
        "two rows at one place",
        lambda folder: folder.row("D13", move=(-3.0, 0.0)),
        "leds-overlap",
        "D12",
        says=("D13",),
    ),
    harbour(
        "two rows too near",
        lambda folder: folder.row("D13", move=(-1.2, 0.0)),
        "parts-too-near",
        "D12",
        severity="warning",
        says=("D13", "mm"),
    ),
    harbour(
        "side view turned away",
        lambda folder: folder.row("D15", turn=180.0),
        "side-view-aims-away",
        "D15",
        says=("wave-long",),
        remedy=("Turn it",),
    ),
    harbour(
        "window without its LED",
        lambda folder: folder.design('window = "buoy"', 'window = "lantern"'),
        "window-unlit",
        "buoy",
        severity="warning",
        remedy=("buoy",),
    ),
    harbour(
        "copper over a lens",
        lambda folder: folder.draw("copper-front", (46.7, 15.6), width=0.9),
        "led-behind-copper",
        "D12",
        severity="warning",
        says=("front copper",),
        remedy=("Clear the front copper",),
    ),
    harbour(
        "hole under an LED",
        lambda folder: folder.hole("drill-unplated", at=(53.4, 10.2), diameter=1.2),
        "led-over-hole",
        "D16",
        severity="warning",
    ),
    harbour(
        "cover too near",
        lambda folder: folder.design("[[led]]", "[board.back_cover]\ndistance_mm = 1.5\nreflectance = 0.8\n\n[[led]]"),
        "part-meets-cover",
        "D2",
        says=("too far",),
        remedy=("cover",),
    ),
    harbour(
        "a top-view part as side view",
        lambda folder: folder.design(
            'mounting = "lens_down"\nwindow = "port"', 'mounting = "side_view"\nwindow = "port"'
        ),
        "mounting-does-not-fit-part",
        "D12",
        severity="warning",
        remedy=("side_view",),
    ),
    harbour(
        "a trace across a window",
        lambda folder: folder.draw("copper-front", (30.0, 36.0), (30.0, 44.0), width=0.4),
        "window-shadowed",
        "moon",
        severity="warning",
        says=("front copper",),
    ),
)


def _bears(code, limits):
    return lambda folder: folder.part(code, "tape = ", f"soldering = {{ {limits} }}\ntape = ")


_LOW = '{ value = 215, origin = "sourced", source = "own sheet" }'
_IRON = '{ value = 280, origin = "sourced", source = "own sheet" }'
HEAT = (
    harbour(
        "an oven too hot",
        _bears("hk-side-amber", f"reflow_peak_c = {_LOW}"),
        "oven-too-hot",
        "D5",
        severity="warning",
        says=("hk-side-amber (D5, D6, D7)", "215", "30 deg C less"),
        remedy=("low-temperature solder",),
    ),
    harbour(
        "no pass through the oven",
        _bears("hk-side-amber", "reflow_passes = 0"),
        "built-by-hand",
        "D5",
        severity="note",
        says=("no pass through the oven",),
    ),
    harbour(
        "an iron too hot",
        _bears("hk-chip-red", f"iron_tip_c = {_IRON}"),
        "iron-too-hot",
        "D12",
        severity="warning",
        says=("280 deg C", "350 deg C"),
        remedy=("Set the iron",),
    ),
    harbour(
        "one pass, and parts on both faces",
        lambda folder: (_bears("hk-side-amber", "reflow_passes = 1")(folder), folder.row("R15", side="Top")),
        "oven-passes-exceeded",
        "D5",
        severity="warning",
        says=("1 pass", "both faces"),
        remedy=("one face",),
    ),
    harbour(
        "damp within two days",
        _bears("hk-side-green", 'moisture_level = "5a"'),
        "moisture-sensitive",
        "D15",
        severity="warning",
        says=("level 5a", "24 hours"),
        remedy=("baked dry",),
    ),
    harbour(
        "a level that is none",
        _bears("hk-side-green", 'moisture_level = "7"'),
        "moisture-sensitive",
        "D15",
        severity="note",
        says=("not one of the standard's",),
    ),
)


LONG_LENS = 'lens_length_mm = { value = 2.9, origin = "sourced", source = "own sheet" }'
MORE = (
    *_each(
        ("D3", "D6", "D7", "D10", "D11", "D13"),
        "also turned by half",
        lambda folder, ref: folder.row(ref, turn=180.0),
        "led-reversed",
        says=("anode",),
    ),
    *_each(
        ("R2", "R8", "R13", "R16"),
        "resistor across its lands",
        lambda folder, ref: folder.row(ref, turn=270.0),
        "part-across-its-lands",
        remedy=("rotation of its row",),
    ),
    *_each(
        ("R4", "R9", "R14"),
        "no row for",
        lambda folder, ref: folder.drop(ref),
        "resistor-missing",
        says=("No row of the placement file",),
        remedy=("with its value",),
    ),
    *_each(
        ("R1", "R10"),
        "wrong face of",
        lambda folder, ref: folder.row(ref, side="Top"),
        "part-without-lands",
        remedy=("face of",),
    ),
    *_each(
        ("D10", "D11"),
        "small shift of",
        lambda folder, ref: folder.row(ref, move=(0.0, 1.2)),
        "land-overhung",
        says=("hangs over its pad",),
        remedy=("Move or widen",),
    ),
    harbour(
        "three resistors in a ring",
        lambda folder: (folder.swap("R2", "R3"), folder.swap("R3", "R4")),
        "resistor-differs",
        "R3",
        says=("in series with D4", "R4 of 8200 ohm"),
    ),
    harbour(
        "value in words of ten",
        lambda folder: folder.row("R1", value="68k 0603"),
        "resistor-differs",
        "R1",
        says=("68000 ohm", "R1 of 6800 ohm"),
    ),
    harbour(
        "too much current",
        lambda folder: folder.design("    6800, 8200", "    10, 8200"),
        "led-limit-passed",
        "D1",
        remedy=("Raise its resistor",),
    ),
    harbour(
        "no tape told",
        lambda folder: folder.part("hk-side-green", "tape = ", "# tape = "),
        "tape-unknown",
        "D15",
        severity="note",
        remedy=("EIA-481",),
    ),
    harbour(
        "a part of no evidence",
        lambda folder: folder.part(
            "hk-chip-blue", 'kind = "meter-test", date = 2026-06-02, who = "invented builder"', 'kind = "unverified"'
        ),
        "mark-unverified",
        "D16",
        severity="warning",
        says=("no evidence", "blocks release"),
    ),
    harbour(
        "window without light",
        lambda folder: folder.design('window = "wave-blue"', 'window = "wave-long"'),
        "window-unlit",
        "wave-blue",
        severity="warning",
    ),
    harbour(
        "legs off the edge",
        lambda folder: folder.row("D15", move=(-6.9, 0.0)),
        "led-over-outline",
        "D15",
        remedy=("inward",),
    ),
    harbour(
        "the lens on its lands",
        lambda folder: (
            folder.design('window = "port"\ngap_mm = 0.6', 'window = "port"'),
            folder.part("hk-chip-red", 'like = "tv-1206-red"', 'like = "tv-1206-red"\n' + LONG_LENS),
        ),
        "lens-on-land",
        "D12",
        severity="warning",
        remedy=("further apart",),
    ),
    harbour(
        "solder beside a body",
        lambda folder: (
            folder.draw("mask-back", (38.7, 36.35), width=0.9),
            folder.draw("copper-back", (38.7, 36.35), width=0.9),
        ),
        "bare-copper-near",
        "D8",
        severity="warning",
        remedy=("close the mask",),
    ),
    harbour(
        "flashing fast",
        lambda folder: (
            folder.design('kind = "coin-cell"', 'kind = "coin-cell"\nflash_hz = 10'),
            folder.design("distance_mm = 400", "distance_mm = 60"),
        ),
        "flashes-too-fast",
        "board",
        says=("10 flashes",),
        remedy=("three times",),
    ),
)


def reels(name, make, code, subject, **rest):
    return Defect(folder="reels", name=name, make=make, code=code, subject=subject, **rest)


REELS = (
    reels("one turned by half", lambda folder: folder.row("D2", turn=180.0), "led-reversed", "D2"),
    reels("all counted from the front", _rule('placement_zero = "anode-left"'), "placement-misread", "D1"),
    reels(
        "value of a row", lambda folder: folder.row("R2", value="33k"), "resistor-differs", "R2", says=("33000", "330")
    ),
    reels(
        "bypassed",
        lambda folder: folder.draw("CuBottom", (125.5, -70.5), (125.5, -68.5), width=0.4),
        "resistor-bypassed",
        "R1",
        says=("D1", "330 ohm"),
    ),
    reels(
        "one resistor for two",
        lambda folder: (
            folder.drop("R1"),
            folder.draw("CuBottom", (125.5, -68.5), (122.0, -68.5), width=0.9, clear=True),
            folder.draw("CuBottom", (125.5, -68.5), (122.0, -68.5), width=1.0),
        ),
        "resistor-shared-by-copper",
        "R2",
        says=("D1, D2", "its own resistor"),
        remedy=("own resistor",),
    ),
    reels("row missing", lambda folder: folder.drop("R3"), "resistor-missing", "D3", near_mm=(119.0, -69.5)),
    reels(
        "pad under mask",
        lambda folder: folder.draw("MaskBottom", (122.0, -70.5), width=2.2, clear=True),
        "part-without-lands",
        "R2",
    ),
    reels("resistor turned", lambda folder: folder.row("R1", turn=90.0), "part-across-its-lands", "R1"),
    reels(
        "rails of another board",
        lambda folder: folder.design('net = "+3.3V"', 'net = "unconnected-(J1-SDA-Pad3)"'),
        "rail-reaches-no-led",
        "board",
    ),
)


MORE_REELS = (
    reels("resistor moved", lambda folder: folder.row("R3", move=(1.5, 0.5)), "part-without-lands", "R3"),
    reels("resistors swapped in value", lambda folder: folder.row("R1", value="3k3"), "resistor-differs", "R1"),
    reels("LED a quarter round", lambda folder: folder.row("D3", turn=90.0), "land-missing", "D3"),
    reels(
        "declared in series",
        lambda folder: folder.design('[["D1"], ["D2"], ["D3"]]', '[["D1", "D2"], ["D3"]]'),
        "circuit-wired-otherwise",
        "D2",
        says=("D1, D2",),
    ),
    reels(
        "a resistor less on paper",
        lambda folder: folder.design("resistor_ohm = [330]", "resistor_ohm = [330, 0, 330]"),
        "resistor-differs",
        "R2",
        says=("330 ohm of R2", "0 ohm"),
    ),
    reels(
        "bypassed, the middle one",
        lambda folder: folder.draw("CuBottom", (122.0, -70.5), (122.0, -68.5), width=0.4),
        "resistor-bypassed",
        "R2",
        says=("D2",),
    ),
)


def disc(name, make, code, subject, **rest):
    return Defect(folder="disc", name=name, make=make, code=code, subject=subject, **rest)


DISC = (
    disc(
        "one turned",
        lambda folder: folder.design("rotation_deg = 90", "rotation_deg = 270"),
        "led-reversed",
        "led-2",
        says=("positive side",),
    ),
    disc(
        "all against the rails",
        lambda folder: (
            folder.design('polarity = "positive"', 'polarity = "x"'),
            folder.design('polarity = "negative"', 'polarity = "positive"'),
            folder.design('polarity = "x"', 'polarity = "negative"'),
        ),
        "led-reversed",
        "led-1",
    ),
    disc(
        "placed across",
        lambda folder: folder.design("rotation_deg = 90", "rotation_deg = 0"),
        "land-missing",
        "led-2",
        severity="warning",
    ),
    disc(
        "series declared for parallel LEDs",
        lambda folder: folder.add(
            '[supply]\nkind = "regulated"\nvoltage_v = 9\n[[circuit]]\ndriver = "rail"\n'
            'strings = [["led-1", "led-2"], ["led-3"]]\nresistor_ohm = [330]\n'
        ),
        "circuit-wired-otherwise",
        "led-2",
        says=("led-1, led-2",),
    ),
    disc(
        "a gap that hangs",
        lambda folder: folder.design('mounting = "lens_down"', 'mounting = "lens_down"\ngap_mm = 0.5'),
        "lens-down-unsteady",
        "led-1",
        severity="warning",
    ),
)


def sheep(name, make, code, subject, **rest):
    return Defect(folder="sheep", name=name, make=make, code=code, subject=subject, **rest)


SHEEP = (
    sheep(
        "hole drilled too small",
        lambda folder: folder.replace("NPTH.drl", "T1C3.1", "T1C2.6"),
        "hole-missing",
        "led-1",
        says=("through_hole", "laminate fills"),
        remedy=("widen the hole",),
    ),
    sheep(
        "drill file of plated holes only",
        lambda folder: (
            folder.replace("NPTH.drl", "X63226Y-46073\n", ""),
            folder.replace("Minibadge.drl", "T1C1.016", "T1C1.016\nT2C3.1"),
            folder.replace("Minibadge.drl", "T0\n", "T2\nX63226Y-46073\nT0\n"),
        ),
        "opening-plated",
        "led-1",
        severity="warning",
        remedy=("unplated",),
    ),
    sheep(
        "lamp beside its hole",
        lambda folder: folder.design("at_mm = [63.226, -46.073]", "at_mm = [61.2, -46.073]"),
        "hole-missing",
        "led-1",
    ),
    sheep(
        "another lamp",
        lambda folder: folder.design("th-3mm-red", "th-5mm-red"),
        "hole-missing",
        "led-1",
        says=("5.1 x 5.1 mm",),
    ),
)

CONTRADICTIONS = (
    harbour(
        "the file calls a blue part amber",
        lambda folder: folder.row("D16", value="tv-1206-amber"),
        "value-contradicts-part",
        "D16",
        severity="warning",
        says=("tv-1206-amber", "hk-chip-blue is blue"),
        remedy=("[[led]]",),
    ),
    harbour(
        "the file calls a 1206 an 0603",
        lambda folder: folder.row("D8", value="LED_0603"),
        "value-contradicts-part",
        "D8",
        severity="warning",
        says=("size 0603", "1206"),
    ),
    harbour(
        "no rail is the positive side",
        lambda folder: folder.design('[[rail]]\npolarity = "positive"\nat_mm = [44.0, 25.8]\n', ""),
        "circuit-not-checked",
        "board",
        severity="note",
        says=("tells the positive rail",),
        remedy=("[[rail]]",),
    ),
    harbour(
        "LED of 30 V",
        lambda folder: folder.part(
            "hk-chip-green",
            'like = "tv-1206-green"',
            'like = "tv-1206-green"\nforward_voltage_v = { value = 30, low = 29, high = 31, origin = "assumed",'
            ' source = "a slip of the comma" }',
        ),
        "led-starved",
        "D13",
        says=("No light", "30 V"),
        remedy=("forward voltage",),
    ),
)


DEFECTS = (
    *CONTRADICTIONS,
    *TURNED_ROWS,
    *WRONG_RULES,
    *LEGEND,
    *CHAIN,
    *LANDS,
    *PLACES,
    *HEAT,
    *MORE,
    *REELS,
    *MORE_REELS,
    *DISC,
    *SHEEP,
)
