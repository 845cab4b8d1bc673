"""ZIP archives: found by their directory, or, where that is damaged, member by member.

Layout from the ZIP file format specification (APPNOTE 6.3), sections 4.3.7 and 4.4. The standard
library's zipfile reads the directory; members are unpacked here, so that a damaged one keeps what
is before the damage.
"""

from __future__ import annotations

import io
import stat
import struct
import zipfile
import zlib
from typing import TYPE_CHECKING

from ridelab.telemetry.archives.bounds import TOO_LARGE
from ridelab.telemetry.archives.inflate import Inflated, inflate
from ridelab.telemetry.archives.member import Member, Refused, Unpacked

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.telemetry.archives.bounds import Budget

_LOCAL = b"PK\x03\x04"
_IN_DIRECTORY = b"PK\x01\x02"
_EMPTY = b"PK\x05\x06"
#: Signature, version, flags, method, time, date, CRC-32, packed and unpacked size, lengths of name
#: and extra field.
_LOCAL_HEADER = struct.Struct("<4sHHHHHIIIHH")
_ENCRYPTED, _SIZES_FOLLOW, _UTF8 = 0x1, 0x8, 0x800
_STORED, _DEFLATED = 0, 8
_IN_ZIP64 = 0xFFFFFFFF
_UNIX = 3
#: zipfile holds the whole directory in memory; one with more entries is not given to it.
_MOST_ENTRIES = 100_000
#: What zipfile raises on a directory that is not one; found by fuzzing, all seen.
_BAD_DIRECTORY = (
    zipfile.BadZipFile,
    NotImplementedError,
    ValueError,
    OSError,
    OverflowError,
    struct.error,
    EOFError,
)


def sniff(content: bytes) -> bool:
    """Whether the content begins as a ZIP archive does."""
    return content[:4] in (_LOCAL, _EMPTY)


def members(content: bytes) -> tuple[Iterator[Member], str]:
    """Return the members in the order of the archive, folders left out, and what is odd about it.

    Without a usable directory the members are looked for one after the other; the words say so.
    """
    if content.count(_IN_DIRECTORY) > _MOST_ENTRIES:
        return _one_by_one(content), "the archive's directory is too long to be read"
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            listed = archive.infolist()
    except _BAD_DIRECTORY as error:
        return _one_by_one(content), f"the archive's directory is damaged or missing ({error})"
    # not by is_dir, which trips over a name that is empty
    files = (info for info in listed if not info.filename.endswith("/"))
    return (_listed(content, info) for info in files), ""


def unpack(member: Member, budget: Budget) -> Unpacked:
    """Unpack one member.

    Raises:
        Refused: encrypted, a link, packed by another method, too large, or broken from the start.
    """
    if member.encrypted:
        raise Refused("is encrypted; accepted: an archive without a password")
    if member.is_link:
        raise Refused("is a link to another file: not followed")
    if member.method not in (_STORED, _DEFLATED):
        raise Refused(f"is packed by method {member.method}; accepted: stored or deflated")
    limit = budget.allowed(len(member.packed))
    if not limit or (member.size_bytes or 0) > limit:
        raise Refused(TOO_LARGE)
    if member.method == _STORED:
        stored = bytes(member.packed[: limit + 1])
        found = Inflated(stored, len(stored), too_large=len(stored) > limit)
    else:
        found = inflate(member.packed, limit)
    budget.spend(limit if found.too_large else len(found.data), found.used)
    if found.too_large:
        raise Refused(TOO_LARGE)
    return _checked(member, found.data, found.damage)


def _checked(member: Member, data: bytes, damage: str) -> Unpacked:
    if damage and not data:
        raise Refused(damage)
    if damage:
        return Unpacked(data, (f"the packed file {damage}: what is before that is read",))
    if member.size_bytes is not None and len(data) != member.size_bytes:
        told = f"the archive announces {member.size_bytes} bytes and holds {len(data)}"
        return Unpacked(data, (told,))
    if member.crc32 is not None and zlib.crc32(data) != member.crc32:
        told = "its checksum in the archive is wrong: some of the content may be"
        return Unpacked(data, (told,))
    return Unpacked(data)


def _listed(content: bytes, info: zipfile.ZipInfo) -> Member:
    """Return a member that the directory lists; without packed bytes where it points nowhere."""
    begin = len(content)
    header = content[info.header_offset : info.header_offset + _LOCAL_HEADER.size]
    if info.header_offset >= 0 and len(header) == _LOCAL_HEADER.size and header[:4] == _LOCAL:
        *_, name_bytes, extra_bytes = _LOCAL_HEADER.unpack(header)
        begin = info.header_offset + _LOCAL_HEADER.size + name_bytes + extra_bytes
    mode = info.external_attr >> 16
    return Member(
        name=info.orig_filename,
        packed=memoryview(content)[begin : begin + info.compress_size],
        method=info.compress_type,
        size_bytes=info.file_size,
        crc32=info.CRC,
        encrypted=bool(info.flag_bits & _ENCRYPTED),
        is_link=info.create_system == _UNIX and stat.S_ISLNK(mode),
    )


def _one_by_one(content: bytes) -> Iterator[Member]:
    """Yield the members whose headers are found, from the first on."""
    at = content.find(_LOCAL)
    while 0 <= at <= len(content) - _LOCAL_HEADER.size:
        _, _, flags, method, _, _, crc32, packed_bytes, size_bytes, name_bytes, extra_bytes = (
            _LOCAL_HEADER.unpack_from(content, at)
        )
        begin = at + _LOCAL_HEADER.size + name_bytes + extra_bytes
        told = not flags & _SIZES_FOLLOW and _IN_ZIP64 not in (packed_bytes, size_bytes)
        at = content.find(_LOCAL, begin + packed_bytes if told else begin)
        end = begin + packed_bytes if told else (at if at >= 0 else len(content))
        name = content[begin - name_bytes - extra_bytes : begin - extra_bytes]
        if not name.endswith(b"/"):
            yield Member(
                name=name.decode("utf-8" if flags & _UTF8 else "cp437", "replace"),
                packed=memoryview(content)[begin:end],
                method=method,
                size_bytes=size_bytes if told else None,
                crc32=crc32 if told else None,
                encrypted=bool(flags & _ENCRYPTED),
            )
