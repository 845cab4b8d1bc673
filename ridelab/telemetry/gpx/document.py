"""Bytes of an XML file -> its markup as text, checked by a parser, damage left out and told.

The parser (expat) only judges: it finds where the markup ends to be well-formed, refuses any
DOCTYPE, which closes the door to entities that expand or reach out, and says where comments and
the like stand. Calling back for every element and text takes about five times as long as that.
"""

from __future__ import annotations

import codecs
import re
from typing import TYPE_CHECKING, NamedTuple
from xml.parsers import expat
from xml.parsers.expat import errors
from xml.sax.saxutils import escape

from ridelab.errors import DamagedFile
from ridelab.telemetry.notes import counted

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.telemetry.notes import Notes

#: A file that breaks its format more often is read up to there.
MOST_BREAKS = 100
#: Breaks told one by one; the others are counted.
TOLD_BREAKS = 3

DECLARED = re.compile(rb"""<\?xml[^>]*?\sencoding\s*=\s*["']([A-Za-z][\w.-]*)["']""")
#: Names, as Python has them, of the encodings in which people write texts; Python knows stranger.
OF_TEXTS = re.compile(r"ascii|utf-(8|16|32)|iso8859|cp\d|koi8|gb|big5|shift_jis|euc_|mac[-_]roman")
BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),  # begins with the mark of utf-16-le, so it goes first
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
#: XML 1.0, appendix F: what stands before the root element.
PROLOG = re.compile(
    r"\s+|<\?.*?\?>|<!--.*?-->|<!DOCTYPE[^>\[]*(?:\[.*?\]\s*)?>", re.DOTALL | re.IGNORECASE
)
ROOT = re.compile(r"<(?:[^\s<>/:]+:)?([^\s<>/:]+)[\s/>]")

#: Where reading can go on behind a break: the elements that hold a track, and what holds them.
RESUME = re.compile(rb"<([^\s<>/:&]+:)?(trkpt|trkseg|trk)[\s>]")
AROUND = {b"trk": (b"gpx",), b"trkseg": (b"gpx", b"trk"), b"trkpt": (b"gpx", b"trk", b"trkseg")}

ENDS_EARLY = {
    errors.codes[text]
    for text in (
        errors.XML_ERROR_NO_ELEMENTS,
        errors.XML_ERROR_UNCLOSED_TOKEN,
        errors.XML_ERROR_PARTIAL_CHAR,
        errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
}
INVALID_TOKEN = errors.codes[errors.XML_ERROR_INVALID_TOKEN]


class _Break(NamedTuple):
    at: int
    code: int
    next_at: int  # where reading goes on; the size of the file if nowhere


class _Cut(NamedTuple):
    """Bytes that are no elements and no text between them."""

    start: int
    end: int
    instead: bytes = b""


class _DoctypeFound(Exception):  # noqa: N818 - leaves the parser, never this module
    pass


def root_name(content: bytes) -> str:
    """Local name of the root element as far as the first 64 KiB show it, else nothing."""
    head = content[:65_536]
    text = head.decode(_encoding(head), errors="replace").lstrip("\ufeff")
    at = 0
    while match := PROLOG.match(text, at):
        at = match.end()
    root = ROOT.match(text, at)
    return root[1] if root else ""


def well_formed(path: Path, content: bytes, notes: Notes) -> bytes:
    """The markup of an XML file in UTF-8, without what breaks the format, as plain tags.

    Nothing else is left in it than start tags, end tags and text: every ``<`` begins a tag, which
    before a break may have no end. What is left out is told.

    Raises:
        DamagedFile: a DOCTYPE, or an encoding that is not known.
    """
    data = _as_utf8(path, content, notes)
    try:
        breaks, cuts = _judged(data)
    except _DoctypeFound:
        found = "it declares a DOCTYPE, which may have the reader expand or fetch anything"
        raise DamagedFile(f"{path}: {found}; accepted: GPX without one") from None
    _tell(data, breaks, notes)
    cuts += [_Cut(one.at, one.next_at) for one in breaks]
    kept: list[bytes] = []
    at = 0
    for cut in sorted(cuts):
        kept += [data[at : cut.start], cut.instead]
        at = max(at, cut.end)
    return b"".join([*kept, data[at:]]) if kept else data


def _encoding(head: bytes) -> str:
    for mark, name in BYTE_ORDER_MARKS:
        if head.startswith(mark):
            return name
    if head[:2] in (b"<\0", b"\0<"):
        return "utf-16-le" if head[:1] == b"<" else "utf-16-be"
    declared = DECLARED.match(head.lstrip()[:256])
    name = declared[1].decode() if declared else "utf-8"
    # A text that can be read as bytes is not of 16-bit units, whatever it declares.
    return "utf-8" if name.lower().startswith(("utf-16", "utf-32", "ucs-")) else name


def _as_utf8(path: Path, content: bytes, notes: Notes) -> bytes:
    name = _encoding(content[:1024])
    try:
        known = codecs.lookup(name).name
    except LookupError:
        known = ""
    if not OF_TEXTS.match(known):
        found = f"its encoding {name!r} is not known"
        raise DamagedFile(f"{path}: {found}; accepted: UTF-8, UTF-16, ISO-8859-1 and others")
    try:
        text = content.decode(name)
        plain = content if known == "utf-8" else text.encode()
    except UnicodeDecodeError:
        text = content.decode(name, errors="replace")
        plain = text.encode()
        bad = counted(text.count("\ufffd") - content.count("\ufffd".encode()), "sign")
        notes.note(f"not {name.upper()} throughout: {bad} replaced")
    return plain.removeprefix(codecs.BOM_UTF8).lstrip()


def _judged(data: bytes) -> tuple[list[_Break], list[_Cut]]:
    """What breaks the format, and what is neither tag nor text."""
    breaks: list[_Break] = []
    cuts: list[_Cut] = []
    start, lead = 0, b""
    while True:
        error = _parse(lead, data, start, cuts)
        if error is None:
            return breaks, cuts
        at, code = error
        # What a token that never ends has swallowed may be points, but it is none itself.
        resume = RESUME.search(data, at + 1 if code in ENDS_EARLY else max(at, start + 1))
        if resume is None or len(breaks) == MOST_BREAKS:
            breaks.append(_Break(at, code, len(data)))
            return breaks, cuts
        start = resume.start()
        breaks.append(_Break(at, code, start))
        prefix = resume[1] or b""
        lead = b"".join(b"<%s%s>" % (prefix, name) for name in AROUND[resume[2]])


def _parse(lead: bytes, data: bytes, start: int, cuts: list[_Cut]) -> tuple[int, int] | None:
    """Parse from ``start`` on, behind ``lead``; where and why that ended before the end."""
    parser = expat.ParserCreate("utf-8")
    shift = start - len(lead)

    def cut(closing: bytes) -> None:
        at = parser.CurrentByteIndex + shift
        cuts.append(_Cut(at, data.index(closing, at) + len(closing)))

    def cut_section() -> None:
        at = parser.CurrentByteIndex + shift
        end = data.find(b"]]>", at)
        if end >= 0:  # else the parser is about to stop
            text = escape(data[at + len(b"<![CDATA[") : end].decode()).encode()
            cuts.append(_Cut(at, end + len(b"]]>"), text))

    def refuse(*_: object) -> None:
        raise _DoctypeFound

    parser.CommentHandler = lambda _: cut(b"-->")
    parser.ProcessingInstructionHandler = lambda *_: cut(b"?>")
    parser.StartCdataSectionHandler = cut_section
    parser.StartDoctypeDeclHandler = refuse
    try:
        parser.Parse(lead, False)
        parser.Parse(memoryview(data)[start:], True)
    except expat.ExpatError as error:
        return parser.ErrorByteIndex + shift, error.code
    return None


def _tell(data: bytes, breaks: list[_Break], notes: Notes) -> None:
    for one in breaks[:TOLD_BREAKS]:
        line = data.count(b"\n", 0, one.at) + 1
        column = one.at - data.rfind(b"\n", 0, one.at)
        if one.code in ENDS_EARLY and one.next_at == len(data):
            notes.warn(f"at line {line}, column {column}: the file breaks off")
            continue
        lost = f"{counted(one.next_at - one.at, 'byte')} skipped"
        why = expat.ErrorString(one.code)
        notes.warn(f"at line {line}, column {column}: not XML ({why}); {lost}")
    if len(breaks) > TOLD_BREAKS:
        lost = counted(sum(one.next_at - one.at for one in breaks[TOLD_BREAKS:]), "byte")
        notes.warn(
            f"{counted(len(breaks) - TOLD_BREAKS, 'more break')} of that kind; {lost} skipped"
        )
