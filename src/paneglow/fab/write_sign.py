"""The signature that closes every file we write, and how to tell later that no hand has touched it.

The signature is the `.MD5` file attribute of the Gerber format (specification rev. 2021.02, attributes chapter, from
memory): the MD5 of every byte before it, line ends left out. XNC files carry the same attribute in a comment.
"""

import hashlib
import re

WRITER = ("GenerationSoftware", "paneglow", "paneglow")  # no version: equal drawings stay equal bytes across releases
ENDINGS = ("M02*", "M30")  # what may follow the signature: end of a Gerber file, end of an XNC file
SIGNATURE_PATTERN = re.compile(r"^(?:%|; #@! )TF\.MD5,([0-9a-f]{32})(?:\*%)?\r?$", re.MULTILINE)


def sign(body: str, *, template: str, end: str) -> str:
    """Close a file's text with its signature and its last line.

    Parameters
    ----------
    body : str
        All that stands before the signature.
    template : str
        The signature's line with `{}` in place of the 32 hexadecimal digits.
    end : str
        What ends the file.
    """
    return body + template.format(_digest(body)) + end


def is_ours(text: str) -> bool:
    """Whether a file's text was written by this writer and is unchanged since."""
    found = SIGNATURE_PATTERN.search(text)
    if found is None or f"TF.{','.join(WRITER)}" not in text[: found.start()]:
        return False
    return text[found.end() :].strip() in ENDINGS and found.group(1) == _digest(text[: found.start()])


def _digest(body: str) -> str:
    return hashlib.md5(body.replace("\r", "").replace("\n", "").encode(), usedforsecurity=False).hexdigest()
