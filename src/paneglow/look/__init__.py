"""What an eye, a camera and a lit room see."""

from paneglow.look.build import build_look
from paneglow.look.openings import window_light_per_lm
from paneglow.look.pictures import draw_body, false_colour_ramp, render_dark_adapted, render_pictures
from paneglow.look.precision import Precision, build_unfinished
from paneglow.look.records import Look, Pictures, WindowLook
from paneglow.look.window_pictures import render_window_range

__all__ = [
    "Look",
    "Pictures",
    "Precision",
    "WindowLook",
    "build_look",
    "build_unfinished",
    "draw_body",
    "false_colour_ramp",
    "render_dark_adapted",
    "render_pictures",
    "render_window_range",
    "window_light_per_lm",
]
