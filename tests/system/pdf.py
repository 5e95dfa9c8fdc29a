# SPDX-License-Identifier: GPL-3.0-or-later
"""What stands on the sheets of a PDF that cairo wrote: its words, by zlib and the operators
of ISO 32000-1 (9.4) alone.  Fonts of other than Latin letters are not read."""

import re
import zlib

STREAM = re.compile(rb"stream\r?\n(.*?)\r?\nendstream", re.DOTALL)
SHOWN = re.compile(rb"\[((?:\\.|[^\]\\])*)\]\s*TJ|\(((?:\\.|[^()\\])*)\)\s*Tj", re.DOTALL)
PIECE = re.compile(rb"\(((?:\\.|[^()\\])*)\)", re.DOTALL)
ESCAPE = re.compile(rb"\\([0-7]{1,3}|.)", re.DOTALL)


def plain(literal):
    def of(escape):
        return bytes([int(escape[1], 8)]) if escape[1].isdigit() else escape[1]
    return ESCAPE.sub(of, literal).decode("cp1252")


def sheet_count(document):
    return len(re.findall(rb"/Type /Page\b(?!s)", document))


def words(document):
    """Each piece of text as it was shown, in order."""
    shown = []
    for stream in STREAM.findall(document):
        try:
            drawn = zlib.decompress(stream)
        except zlib.error:
            continue
        if b" Tf" not in drawn:
            continue
        for kerned, simple in SHOWN.findall(drawn):
            pieces = PIECE.findall(kerned) if kerned else [simple]
            shown.append("".join(map(plain, pieces)))
    return shown
