"""A board of 40 x 30 mm with one window and one LED, drawn by hand in a few statements, for tests of the faces."""

from pathlib import Path

HEAD = "%FSLAX46Y46*%\n%MOMM*%\n%LPD*%\n"


def coordinate(x_mm: float, y_mm: float) -> str:
    return f"X{round(x_mm * 1e6)}Y{round(y_mm * 1e6)}"


def region(left: float, low: float, right: float, high: float) -> str:
    corners = ((right, low), (right, high), (left, high), (left, low))
    lines = "".join(f"{coordinate(x, y)}D01*\n" for x, y in corners)
    return f"G36*\n{coordinate(left, low)}D02*\nG01*\n{lines}G37*\n"


def layer(function: str, body: str) -> str:
    return f"%TF.FileFunction,{function}*%\n{HEAD}{body}M02*\n"


def profile(width_mm: float, height_mm: float, *, closed: bool = True) -> str:
    corners = [(width_mm, 0.0), (width_mm, height_mm), (0.0, height_mm), *([(0.0, 0.0)] if closed else [])]
    lines = "".join(f"{coordinate(x, y)}D01*\n" for x, y in corners)
    return layer("Profile,NP", f"%ADD10C,0.1*%\nD10*\n{coordinate(0, 0)}D02*\nG01*\n{lines}")


def copper(function: str) -> str:
    return layer(function, f"{region(1, 1, 39, 29)}%LPC*%\n{region(15, 10, 25, 20)}")


DRILL = "M48\nMETRIC,TZ\nT1C1.000\n%\nG90\nG05\nT1\nX3.000Y3.000\nX37.000Y27.000\nM30\n"
FILES = {
    "top.gbr": copper("Copper,L1,Top"),
    "bottom.gbr": copper("Copper,L2,Bot"),
    "mask-top.gbr": layer("Soldermask,Top", region(14.9, 9.9, 25.1, 20.1)),
    "mask-bottom.gbr": layer("Soldermask,Bot", region(14.9, 9.9, 25.1, 20.1)),
    "outline.gbr": profile(40, 30),
    "holes.drl": DRILL,
}
DESIGN = """name = "tiny"
[board]
fabrication = "fab"
[[led]]
at_mm = [12.0, 15.0]
part = "{part}"
mounting = "side_view"
window = "pane"
current_ma = 2.0
[[window]]
name = "pane"
at_mm = [17.0, 12.0]
"""
PART = "sv-1204-amber"


def write_tiny_board(folder: Path, *, files: dict[str, str] | None = None, design: str | None = None) -> Path:
    """Write the design and its files into a folder and return the design; None as content leaves a file out."""
    (folder / "fab").mkdir(parents=True)
    for name, text in (FILES | (files or {})).items():
        if text is not None:
            (folder / "fab" / name).write_text(text)
    (folder / "design.toml").write_text(DESIGN.format(part=PART) if design is None else design)
    return folder / "design.toml"
