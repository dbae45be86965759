"""The files of a report; for its pictures, captions that say what each shows and where it misleads."""

from paneglow.results.records import PictureResult

PAGE_FILE = "report.html"
RESULTS_FILE = "results.json"

PICTURES: tuple[PictureResult, ...] = (
    PictureResult(
        name="dark_adapted",
        file="glow-dark-adapted.png",
        title="As a dark-adapted eye sees it",
        caption=(
            "The lit board in a dark room, its luminance compressed the way an adapted eye compresses it, so that a "
            "faded end still shows. A screen cannot be as bright as the real thing: compare windows with each other."
        ),
    ),
    PictureResult(
        name="camera",
        file="glow-camera.png",
        title="As a phone camera overexposes it",
        caption=(
            "What a photograph would show. The sensor clips: bright windows turn white or shift in hue, and a window "
            "that fades can look even. Never judge evenness or colour by a picture like this one."
        ),
    ),
    PictureResult(
        name="lit_room",
        file="glow-lit-room.png",
        title="In the lit room",
        caption=(
            "The board with the stated room light on its front. Windows that barely stand out here need more current, "
            "less laminate or a darker surround. Glossy reflections of lamps are not shown."
        ),
    ),
    PictureResult(
        name="false_colour",
        file="glow-false-colour.png",
        title="Luminance in false colour",
        caption=(
            "Luminance of every point along the viewing direction, for the nominal laminate. Colour here means "
            "brightness, not hue; read it off the scale."
        ),
    ),
)

REPORT_FILES = frozenset((PAGE_FILE, RESULTS_FILE, *(picture.file for picture in PICTURES)))
