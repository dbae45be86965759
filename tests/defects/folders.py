"""Design folders that defects are put into: the demonstration, and real boards from a folder beside the project."""

import csv
import io
import os
import re
import shutil
import zipfile
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).parents[2]
DEMONSTRATION = ROOT / "examples" / "harbour-keepsake"
REAL_BOARDS = Path(os.environ.get("PANEGLOW_BOARDS", ROOT.parent / "shared" / "boards"))
FIRST_OWN_CODE = 900  # of the apertures that edits add; files have far fewer


def _names(row: Iterable[str]) -> dict[str, str]:
    """Columns of a placement file by what they hold."""
    words = {
        "x": ("X",),
        "y": ("Y",),
        "rotation": ("Rotation",),
        "side": ("Layer", "Side"),
        "value": ("Val",),
        "ref": ("Designator", "Reference"),
    }
    return {key: next((name for name in row if any(word in name for word in some)), "") for key, some in words.items()}


class Folder:
    """One design folder, with the edits that make a defect of it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._code = FIRST_OWN_CODE

    @property
    def design_file(self) -> Path:
        return self.path / "design.toml"

    def design(self, old: str, new: str) -> None:
        """Replace a piece of the design that stands in it."""
        text = self.design_file.read_text()
        assert old in text, f"{old!r} is not in the design"
        self.design_file.write_text(text.replace(old, new, 1))

    def add(self, text: str) -> None:
        """Tables at the end of the design."""
        self.design_file.write_text(self.design_file.read_text() + text)

    def board(self, line: str) -> None:
        """A line of [board]; one of the same key is replaced."""
        text = re.sub(rf"(?m)^{line.split('=', 1)[0].strip()} *=.*\n", "", self.design_file.read_text())
        self.design_file.write_text(text.replace("[board]\n", f"[board]\n{line}\n", 1))

    @property
    def _rows(self) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO((self.path / "placement.csv").read_text())))

    def _write_rows(self, rows: list[dict[str, str]]) -> None:
        out = io.StringIO()
        writer = csv.DictWriter(out, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        (self.path / "placement.csv").write_text(out.getvalue())

    def row(self, ref: str, *, turn: float = 0.0, move: tuple[float, float] = (0.0, 0.0), **cells: str) -> None:
        """Turn or move a row, or give it other cells; `side`, `value` and `ref` name them in any dialect."""
        rows = self._rows
        names = _names(rows[0])
        row = next(row for row in rows if row[names["ref"]] == ref)
        row[names["rotation"]] = f"{(float(row[names['rotation']]) + turn) % 360:g}"
        for axis, by in zip("xy", move, strict=True):
            row[names[axis]] = f"{float(row[names[axis]]) + by:.4f}"
        for key, cell in cells.items():
            row[names[key]] = cell
        self._write_rows(rows)

    def drop(self, ref: str) -> None:
        """Take a row out."""
        self._write_rows([row for row in self._rows if row[_names(row)["ref"]] != ref])

    def swap(self, first: str, second: str) -> None:
        """Each of two rows takes the place of the other."""
        rows = self._rows
        name = _names(rows[0])["ref"]
        one, other = (next(row for row in rows if row[name] == ref) for ref in (first, second))
        one[name], other[name] = second, first
        self._write_rows(rows)

    def layer(self, role: str) -> Path:
        """File of a layer by a part of its name."""
        return next(path for path in sorted((self.path / "fab").iterdir()) if role in path.name)

    def draw(self, role: str, *points: tuple[float, float], width: float, clear: bool = False) -> None:
        """Draw a line through points, or a dot at one, at the end of a layer; or clear it away."""
        path = self.layer(role)
        text = path.read_text()
        self._code += 1
        (x, y), *rest = [(round(x * 1e6), round(y * 1e6)) for x, y in points]
        strokes = [f"X{x}Y{y}D02*", *(f"X{a}Y{b}D01*" for a, b in rest)] if rest else [f"X{x}Y{y}D03*"]
        polarity = "%LPC*%" if clear else "%LPD*%"
        added = [polarity, "%TD*%", f"%ADD{self._code}C,{width:g}*%", f"D{self._code}*", "G01*", *strokes, "%LPD*%"]
        kept = re.sub(r"(?m)^%TF\.MD5.*\n", "", text).replace("M02*", "\n".join([*added, "M02*"]))
        path.write_text(kept)

    def replace(self, role: str, old: str, new: str) -> None:
        """Replace text of a fabrication file."""
        path = self.layer(role)
        text = re.sub(r"(?m)^(%TF|; #@! TF)\.MD5.*\n", "", path.read_text())
        assert old in text, f"{old!r} is not in {path.name}"
        path.write_text(text.replace(old, new, 1))

    def hole(self, role: str, *, at: tuple[float, float], diameter: float) -> None:
        """Drill one more hole."""
        path = self.layer(role)
        text = re.sub(r"(?m)^; #@! TF\.MD5.*\n", "", path.read_text())
        head, tail = text.split("%\n", 1)
        tail = tail.replace("M30", f"T9\nX{at[0]:.4f}Y{at[1]:.4f}\nM30")
        path.write_text(f"{head}T9C{diameter:.4f}\n%\n{tail}")

    def part(self, code: str, old: str, new: str) -> None:
        """Replace a piece of the record of one of the design's own parts."""
        path = next((self.path / "parts").glob("*.toml"))
        head, block = path.read_text().split(f'code = "{code}"', 1)
        block, *rest = re.split(r"(?m)^(?=\[\[part\]\])", block)
        assert old in block, f"{old!r} is not in the record of {code}"
        path.write_text(head + f'code = "{code}"' + block.replace(old, new, 1) + "".join(rest))


def _demonstration(folder: Path) -> None:
    for name in ("fab", "parts"):
        shutil.copytree(DEMONSTRATION / name, folder / name)
    for name in ("design.toml", "placement.csv"):
        shutil.copy(DEMONSTRATION / name, folder / name)


def _real(name: str, design: str, *, placement: str = ""):
    def write(folder: Path) -> None:
        source = REAL_BOARDS / name
        if (source / "fab.zip").exists():
            with zipfile.ZipFile(source / "fab.zip") as archive:
                archive.extractall(folder / "fab")
        else:
            shutil.copytree(source / "fab", folder / "fab")
        if placement:
            shutil.copy(source / placement, folder / "placement.csv")
        (folder / "design.toml").write_text(design)

    return write


# Three round cut-outs on the back of which chips of 3216 size were drawn, with a resistor each
REELS = """name = "reels"
[board]
fabrication = "fab"
placement = "placement.csv"
placement_bottom = "turned-left-right"
placement_zero = "cathode-left"
pitch_mm = 0.1
[[led]]
refs = ["D1", "D2", "D3"]
part = "co-1206-amber"
mounting = "cutout"
current_ma = 4
[[rail]]
polarity = "positive"
net = "+3.3V"
[[rail]]
polarity = "negative"
net = "GND"
[supply]
kind = "regulated"
voltage_v = 3.3
[[circuit]]
driver = "rail"
strings = [["D1"], ["D2"], ["D3"]]
resistor_ohm = [330]
"""

# Five chips lens down over windows between their lands; no placement file was published
DISC_PLACES = ((123.88, -79.375), (134.66, -99.965), (160.16, -81.8))
DISC = """name = "disc"
[board]
fabrication = "fab"
pitch_mm = 0.1
[[rail]]
polarity = "positive"
at_mm = [129.75, -105.12]
[[rail]]
polarity = "negative"
at_mm = [145.51, -121.81]
""" + "".join(
    f"""[[led]]
at_mm = [{x}, {y}]
rotation_deg = {270 if y > -90 else 90}
part = "tv-1206-amber"
mounting = "lens_down"
current_ma = 4
"""
    for x, y in DISC_PLACES
)

# Two lamps of 3 mm that look through holes of 3.1 mm from the back
SHEEP = """name = "sheep"
[board]
fabrication = "fab"
pitch_mm = 0.05
[[led]]
at_mm = [63.226, -46.073]
rotation_deg = 0
part = "th-3mm-red"
mounting = "through_hole"
current_ma = 4
"""

FOLDERS = {
    "harbour": _demonstration,
    "reels": _real("reels-oneside", REELS, placement="CPL-Sao_SlotMachine_v2.csv"),
    "disc": _real("disc-lensdown5", DISC),
    "sheep": _real("sheep-eyes", SHEEP),
}
