"""Files that are not the fabrication set of one board: what they are, and what to export instead."""

import os
from collections.abc import Mapping, Sequence
from pathlib import PurePosixPath

from paneglow.fab.layer_words import ending_of

EXPORT = (
    "export the board's Gerber files (copper, mask, outline) and drill files, and give their folder or a .zip of them"
)
ARCHIVE_ENDINGS = frozenset({"zip", "7z", "rar", "gz", "tgz", "tar", "bz2", "xz", "zst"})
# What people send in place of fabrication files, by ending; common practice, no source
KINDS: dict[str, frozenset[str]] = {
    "pictures": frozenset({"jpg", "jpeg", "png", "heic", "heif", "webp", "gif", "bmp", "tif", "tiff", "dng"}),
    "drawings, pages or models": frozenset(
        {"pdf", "ps", "svg", "dxf", "dwg", "step", "stp", "stl", "iges", "igs", "wrl", "html"}
    ),
    "tables or texts": frozenset({"csv", "tsv", "pos", "xy", "xlsx", "ods", "docx", "odt", "txt", "md"}),
}
NAMED_FILES = 3  # in a message
ROLES_TWICE = 3  # chosen: layers that come twice before the files are those of two boards, not one layer in doubt


def why_no_gerber(names: Sequence[str], *, has_drill: bool) -> str:
    """What a set holds in place of Gerber files, and what to do.

    Parameters
    ----------
    names : sequence of str
        All its files.
    has_drill : bool
        Whether one of them is a drill file.
    """
    archives = [name for name in names if ending_of(name) in ARCHIVE_ENDINGS]
    if archives:
        return f"holds no Gerber file, but an archive: {archives[0]}; give that, or unpack it and give its folder"
    if has_drill:
        return f"holds drill files, but no Gerber file; {EXPORT}"
    endings = {ending_of(name) for name in names}
    if not endings <= frozenset().union(*KINDS.values()):
        return f"holds no Gerber file ({_listed(names)}), and a board editor's own files are not read; {EXPORT}"
    kind = next((kind for kind, known in KINDS.items() if endings <= known), "files of other kinds")
    return f"holds no Gerber file, only {kind} ({_listed(names)}); {EXPORT}"


def why_no_archive(name: str, *, is_layer: bool) -> str:
    """Why one file is no fabrication set, and what to do.

    Parameters
    ----------
    name : str
    is_layer : bool
        Whether it is a Gerber or drill file.
    """
    if is_layer:
        return "is one file of a fabrication set; give the folder of all Gerber and drill files, or a .zip of them"
    ending = ending_of(name)
    if ending in ARCHIVE_ENDINGS - {"zip"}:
        return f"is an archive that is not read (.{ending}); unpack it and give its folder, or pack it as .zip"
    if ending == "zip":
        return "is not a readable zip; pack it again, or give the folder"
    own = "" if any(ending in known for known in KINDS.values()) else ", and a board editor's own file is not read"
    return f"is no fabrication set{own}; {EXPORT}"


def why_several_boards(names_by_role: Mapping[str, Sequence[str]]) -> str | None:
    """Say that files are those of several boards; None where they may be one board with a layer in doubt.

    Parameters
    ----------
    names_by_role : mapping of str to sequence of str
        For every layer that more than one file could be, those files, with their folders.
    """
    most = max((len(names) for names in names_by_role.values()), default=0)
    whole = [names for names in names_by_role.values() if len(names) == most]
    if len(whole) < ROLES_TWICE:
        return None
    folders = {str(PurePosixPath(name).parent) for names in whole for name in names}
    if all(len({PurePosixPath(name).parent for name in names}) == most for names in whole) and len(folders) == most:
        return (
            f"holds the files of {most} boards, in the folders {_listed(sorted(folders))}; give one of them, or a"
            " .zip of it alone"
        )
    boards = _by_shared_start(whole, most=most)
    if boards is None:
        return None
    firsts = _listed([f"{board[0]} and {len(board) - 1} more" for board in boards])
    return f"holds the files of {most} boards ({firsts}); put those of each board into a folder or .zip of its own"


def _by_shared_start(whole: Sequence[Sequence[str]], *, most: int) -> list[list[str]] | None:
    """Files put together by the start that their names share, one of each layer in each board; None where they do not.

    A layer's word may also stand first, and the board's last: then names are compared from their end.
    """
    for turned in (False, True):
        boards: list[list[str]] = [[name] for name in whole[0]]
        for names in whole[1:]:
            for name in names:
                shared = [_shared_length(board[0], name, turned=turned) for board in boards]
                if shared.count(max(shared)) > 1:
                    break
                boards[shared.index(max(shared))].append(name)
        if all(len(board) == len(whole) for board in boards) and len(boards) == most:
            return boards
    return None


def _shared_length(one: str, other: str, *, turned: bool) -> int:
    pair = [PurePosixPath(name).stem[::-1] if turned else PurePosixPath(name).stem for name in (one, other)]
    return len(os.path.commonprefix(pair))


def _listed(names: Sequence[str]) -> str:
    more = len(names) - NAMED_FILES
    return ", ".join(names[:NAMED_FILES]) + (f" and {more} more" if more > 0 else "")
