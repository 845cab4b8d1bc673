"""How much an archive may expand to: enough for every honest one, too little to hurt."""

from __future__ import annotations

from dataclasses import dataclass

_KIB, _MIB, _GIB = 1 << 10, 1 << 20, 1 << 30

#: One member, unpacked, is held in memory: a working day at 100 rows a second is below this.
MAX_CONTENT_BYTES = 256 * _MIB
#: All members of one file, archives in it and their members counted too.
MAX_TOTAL_BYTES = 2 * _GIB
#: Unpacked over packed size. Ride files expand 2 to 20 times, monotonous text 100 times; the most
#: that deflate can do is 1032 times.
MAX_RATIO = 200
#: Below this size the ratio does not matter, for a member and for a whole file.
FREE_CONTENT_BYTES = 1 * _MIB
FREE_TOTAL_BYTES = 64 * _MIB
MAX_MEMBERS = 10_000
#: Archives in archives: a .gz in a .zip in a .zip is three deep.
MAX_DEPTH = 4

TOO_LARGE = (
    f"expands too far; accepted: up to {MAX_RATIO} times the packed size, "
    f"{MAX_CONTENT_BYTES // _MIB} MiB a member, {MAX_TOTAL_BYTES // _GIB} GiB a file"
)
TOO_MANY = f"holds more than {MAX_MEMBERS} members: those after them are left out"
TOO_DEEP = f"archives in archives, more than {MAX_DEPTH} deep: not opened"


@dataclass
class Budget:
    """What is left to one file: bytes to expand to, packed bytes to look at, and members.

    Members may lie on the same packed bytes, and may expand to nothing after a long time.
    """

    bytes_left: int
    packed_left: int
    members_left: int = MAX_MEMBERS

    @classmethod
    def of_file(cls, size_bytes: int) -> Budget:
        """Return the budget of a file of that size."""
        by_size = min(MAX_TOTAL_BYTES, max(FREE_TOTAL_BYTES, MAX_RATIO * size_bytes))
        return cls(by_size, by_size)

    def allowed(self, packed_bytes: int) -> int:
        """Return to how many bytes a member of that packed size may expand now."""
        if packed_bytes > self.packed_left:
            return 0
        by_size = max(FREE_CONTENT_BYTES, MAX_RATIO * packed_bytes)
        return min(MAX_CONTENT_BYTES, by_size, self.bytes_left)

    def spend(self, expanded_bytes: int, packed_bytes: int) -> None:
        """Take what a member has expanded to, used or not, and what of it was looked at."""
        self.bytes_left -= expanded_bytes
        self.packed_left -= packed_bytes
