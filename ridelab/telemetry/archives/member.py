"""What the containers hand to the unpacking: packed members, and what became of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


class Unpacked(NamedTuple):
    """A member's bytes; ``damage`` says what was lost of them, in words."""

    data: bytes
    damage: tuple[str, ...] = ()


class Refused(Exception):  # noqa: N818 - reads as what became of the member
    """A member cannot be had: its text says why."""


@dataclass(frozen=True)
class Member:
    """One member, still packed. ``name`` is as the archive has it."""

    name: str
    packed: memoryview
    method: int
    size_bytes: int | None = None  # unpacked, as declared; None where the archive does not tell
    crc32: int | None = None
    encrypted: bool = False
    is_link: bool = False
