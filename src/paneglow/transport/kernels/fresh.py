"""Compiled kernels on disk are only as good as all their sources.

The compiler's cache looks at the file of a function alone, not at the files of what it calls: after a change in one
kernel file its callers would go on with the old machine code. So the cache is emptied whenever any source here changes.
"""

import hashlib
from contextlib import suppress
from pathlib import Path

COMPILED = ("*.nbi", "*.nbc")  # index and machine code, beside Python's own byte code
STAMP = "kernels.sha256"


def drop_stale_kernels(folder: Path) -> bool:
    """Empty the compiled cache of a folder of kernels where their sources are not those it was made from.

    Returns
    -------
    bool
        Whether the cache was emptied. A folder that cannot be written holds no cache of its own: nothing is done.
    """
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.py")):
        digest.update(path.name.encode() + path.read_bytes())
    cache = folder / "__pycache__"
    stamp = cache / STAMP
    with suppress(OSError):
        if stamp.exists() and stamp.read_text() == digest.hexdigest():
            return False
        cache.mkdir(exist_ok=True)
        for pattern in COMPILED:
            for path in cache.glob(pattern):
                path.unlink(missing_ok=True)
        stamp.write_text(digest.hexdigest())
        return True
    return False
