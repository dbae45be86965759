"""X2 attributes of files, apertures and objects, as %TF...*% or hidden in G04 #@! comments."""

import re
from dataclasses import dataclass, field

from paneglow.errors import GerberError
from paneglow.fab.drawing import ObjectNames

_ATTRIBUTE = re.compile(r"T([FAOD])(\.?[A-Za-z_$][\w.$+-]*)?(?:,(.*))?", re.DOTALL)
_ESCAPE = re.compile(r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})")


@dataclass(slots=True, kw_only=True)
class Attributes:
    """Attribute dictionaries while a file is read; grows, so not a record."""

    of_file: dict[str, tuple[str, ...]] = field(default_factory=dict)
    of_aperture: dict[str, tuple[str, ...]] = field(default_factory=dict)
    of_object: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def take(self, text: str) -> None:
        """Apply one TF, TA, TO or TD statement.

        Raises
        ------
        GerberError
            Where it cannot be read.
        """
        match = _ATTRIBUTE.fullmatch(text.strip())
        if match is None or (match[2] is None and (match[1] != "D" or match[3] is not None)):
            raise GerberError(
                f"cannot read attribute {text[:40]!r}; needed is for example %TF.FileFunction,Copper,L1,Top*%"
            )
        kind, name = match[1], (match[2] or "").removeprefix(".")
        if kind == "D":
            self._forget(name)
            return
        fields = tuple(unescaped(part.strip()) for part in match[3].split(",")) if match[3] is not None else ()
        {"F": self.of_file, "A": self.of_aperture, "O": self.of_object}[kind][name] = fields

    def object_names(self) -> ObjectNames | None:
        """Net, component and pin that the current object attributes name; None where they name none."""
        if not self.of_object:
            return None
        ref, pin, function = (*self.of_object.get("P", ()), "", "", "")[:3]
        names = ObjectNames(
            net=next(iter(self.of_object.get("N", ())), ""),
            ref=ref or next(iter(self.of_object.get("C", ())), ""),
            pin=pin,
            function=function,
        )
        return None if names == ObjectNames() else names

    def _forget(self, name: str) -> None:
        """Delete one aperture or object attribute, or all of them; file attributes stay for good."""
        for attributes in (self.of_aperture, self.of_object):
            if name:
                attributes.pop(name, None)
            else:
                attributes.clear()


def unescaped(text: str) -> str:
    r"""Text with its \uXXXX escapes turned into characters; an escape that is no character stays as it is."""
    return _ESCAPE.sub(_character, text)


def _character(match: re.Match[str]) -> str:
    code = int(match[1] or match[2], 16)
    return match[0] if code > 0x10FFFF or 0xD800 <= code <= 0xDFFF else chr(code)
