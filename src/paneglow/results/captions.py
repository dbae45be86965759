"""The files of a report; for its pictures, captions that say what each shows and where it misleads."""

from paneglow.results.records import PictureResult

OUT_FOLDER = "glow"  # beside the design, where no other is named
PAGE_FILE = "report.html"
SHORT_PAGE_FILE = "report-short.html"  # two printed pages, without money
BENCH_FILE = "bench.html"  # the sheet to solder from
RESULTS_FILE = "results.json"

PICTURES: tuple[PictureResult, ...] = (
    PictureResult(
        name="dark_adapted",
        file="glow-dark-adapted.png",
        title="As a dark-adapted eye sees it",
        caption=(
            "An eye adapted to the windows in a dark room. Bright and dim are compressed but never clipped, so a faded "
            "end still shows, and strong light veils its surround. A screen cannot be as bright as the real thing: "
            "compare windows with each other."
        ),
    ),
    PictureResult(
        name="camera",
        file="glow-camera.png",
        title="How a phone camera would show it (overexposed)",
        caption=(
            "On automatic exposure the sensor clips: bright windows turn pale or shift in hue, and a window that fades "
            "can look even. Never judge evenness or colour by a photograph like this one."
        ),
    ),
    PictureResult(
        name="lit_room",
        file="glow-lit-room.png",
        title="In room light",
        caption=(
            "With the stated room light on the front. Windows that barely stand out here need more current or a darker "
            "surround. Glossy reflections of lamps are not shown."
        ),
    ),
    PictureResult(
        name="false_colour",
        file="glow-false-colour.png",
        title="Luminance in false colour",
        caption=(
            "Light of the LEDs inside the windows, along the viewing direction; board and surround are grey. Colour "
            "means brightness here, not hue: read it off the scale."
        ),
    ),
)

OTHER_PICTURE = "glow-other-currents.png"  # the board before matching, or as matching would make it

REPORT_FILES = frozenset(
    (PAGE_FILE, SHORT_PAGE_FILE, BENCH_FILE, RESULTS_FILE, OTHER_PICTURE, *(picture.file for picture in PICTURES))
)
