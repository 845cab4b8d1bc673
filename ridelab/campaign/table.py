"""A TOML table that is read key by key, and says file, key, found and accepted when it is wrong."""

from __future__ import annotations

import math
import re
import tomllib
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, NoReturn, TypeVar

from ridelab.errors import CampaignError, NotAccepted, nearest
from ridelab.units import Dimension, Quantity, half_last_digit, parse_quantity

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping
    from pathlib import Path

D = TypeVar("D")
C = TypeVar("C")

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
_LONGEST_SHOWN = 60


class Required:
    """Stands for "no default": the key must be there."""


REQUIRED: Final = Required()


class PrintedFloat(float):
    """A TOML float that remembers how it was printed: 5.40 was given to a hundredth."""

    text: str

    def __new__(cls, text: str) -> PrintedFloat:
        """Keep ``text`` beside the number it stands for."""
        number = super().__new__(cls, text)
        number.text = text.replace("_", "")
        return number


def read_toml(file: Path) -> dict[str, Any]:
    """Return a TOML file's top table, floats as ``PrintedFloat``.

    Raises:
        CampaignError: no such file, a folder, not text, not TOML (with line and column).
    """
    if file.is_dir():
        raise CampaignError(file, "", "is a folder", "a file, such as the campaign.toml in it")
    try:
        # editors on some systems put a byte order mark in front, which TOML does not know
        return tomllib.loads(file.read_text(encoding="utf-8-sig"), parse_float=PrintedFloat)
    except FileNotFoundError:
        raise CampaignError(
            file, "", "does not exist", "a TOML file; `ridelab new DIR` writes one to start from"
        ) from None
    except OSError as error:
        raise CampaignError(file, "", f"cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise CampaignError(
            file, "", f"byte {error.start} is not UTF-8 text", "a TOML file, saved as UTF-8"
        ) from error
    except (ValueError, RecursionError) as error:
        reason = str(error) or "nested too deeply"
        raise CampaignError(
            file, "", f"is not TOML: {reason}", "TOML, https://toml.io/en/v1.0.0"
        ) from error


def shown(value: object) -> str:
    """Return a TOML value as a message quotes it: short, control characters visible."""
    if isinstance(value, dict):
        return "a table"
    text = repr(value) if isinstance(value, (str, list)) else str(value)
    text = text.lower() if isinstance(value, bool) else text
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"


def one_of(words: Collection[str]) -> str:
    """Return "bicycle, trike or tandem"."""
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else last


class Table:
    """One table of a file. Every getter raises CampaignError on a wrong type or a missing key."""

    def __init__(
        self, file: Path, path: str, raw: Mapping[str, Any], known: Collection[str] | None
    ) -> None:
        """Refuse keys that are not ``known``; None takes any (names that the user chooses)."""
        self.file, self.path, self.raw = file, path, raw
        for key in raw:
            if known is not None and key not in known:
                self.fail(key, "unknown key", nearest(key, known))

    def __contains__(self, key: str) -> bool:
        return key in self.raw

    def key_path(self, key: str) -> str:
        """Return where a key stands, as TOML writes it; parts of an array are counted from #1."""
        part = key if _BARE_KEY.fullmatch(key) else repr(key)
        return ".".join(filter(None, (self.path, part)))

    def fail(self, key: str, found: str, accepted: str) -> NoReturn:
        """Raise the one error of this file."""
        raise CampaignError(self.file, self.key_path(key) if key else self.path, found, accepted)

    @contextmanager
    def owning(self, key: str = "") -> Iterator[None]:
        """Turn a refusal from a room below into an error that names this file and key."""
        try:
            yield
        except NotAccepted as refusal:
            self.fail(refusal.key or key, f"found {refusal.found}", refusal.accepted)

    def _get(self, key: str, types: type | tuple[type, ...], accepted: str) -> Any:  # noqa: ANN401 - as TOML gives it
        """Return the raw value, or None where the key is absent."""
        value = self.raw.get(key)
        # TOML's true is no number, though Python counts it as one
        if value is not None and (isinstance(value, bool) or not isinstance(value, types)):
            self.fail(key, f"found {shown(value)}", accepted)
        return value

    def _default(self, key: str, default: D | Required, accepted: str) -> D:
        if isinstance(default, Required):
            self.fail(key, "missing", accepted)
        return default

    def text(
        self, key: str, default: D | Required = REQUIRED, accepted: str = "a text in quotes"
    ) -> str | D:
        """Return a string."""
        value = self._get(key, str, accepted)
        return self._default(key, default, accepted) if value is None else str(value)

    def choice(self, key: str, words: Mapping[str, C], default: D | Required = REQUIRED) -> C | D:
        """Return what one of the words stands for."""
        value = self._get(key, str, one_of(words))
        if value is None:
            return self._default(key, default, one_of(words))
        if value not in words:
            self.fail(key, f"found {shown(value)}", one_of(words))
        return words[value]

    def integer(self, key: str, accepted: str, default: D | Required = REQUIRED) -> int | D:
        """Return a whole number."""
        value = self._get(key, int, accepted)
        return self._default(key, default, accepted) if value is None else int(value)

    def quantity(
        self, key: str, dimension: Dimension, accepted: str, default: D | Required = REQUIRED
    ) -> Quantity | D:
        """Return a number, or a string with a number and its unit; a bare number is SI."""
        value = self._get(key, (str, int, float), accepted)
        if value is None:
            return self._default(key, default, accepted)
        if isinstance(value, str):
            with self.owning(key):
                return parse_quantity(value, dimension)
        printed = value.text if isinstance(value, PrintedFloat) else str(value)
        number = self._finite(key, value, accepted)
        return Quantity(number, printed, float(half_last_digit(printed)))

    def positive(
        self,
        key: str,
        dimension: Dimension,
        accepted: str,
        *,
        least: float = 0.0,
        most: float = math.inf,
        below: float = math.inf,
        unit_si: float = 1.0,
        default: D | Required = REQUIRED,
    ) -> float | D:
        """Return a positive number in the key's own unit, ``unit_si`` SI units large.

        It lies from ``least`` to ``most``, and is smaller than ``below``.
        """
        quantity = self.quantity(key, dimension, accepted, None)
        if quantity is None:
            return self._default(key, default, accepted)
        number = (
            quantity.value_si / unit_si if isinstance(self.raw[key], str) else quantity.value_si
        )
        if not (0 < number < below and least <= number <= most):
            self.fail(key, f"found {shown(self.raw[key])}", accepted)
        return number

    def undefined(self, key: str, name: str, names: Collection[str]) -> NoReturn:
        """Refuse a name that should be that of another table."""
        part = name if _BARE_KEY.fullmatch(name) else repr(name)
        accepted = nearest(name, names) if names else f"a table [{key}s.{part}] that defines it"
        self.fail(key, f"found {shown(name)}, which no [{key}s] table defines", accepted)

    def items(self, key: str, types: type | tuple[type, ...], accepted: str) -> list[Any]:
        """Return a required list with at least one entry, all of the type or types."""
        values = self._get(key, list, accepted)
        if values is None:
            self.fail(key, "missing", accepted)
        if not values:
            self.fail(key, "found an empty list", accepted)
        for value in values:
            if isinstance(value, bool) or not isinstance(value, types):
                self.fail(key, f"found {shown(value)} in the list", accepted)
        return list(values)

    def numbers(self, key: str, accepted: str) -> list[float]:
        """Return a required list of numbers."""
        return [self._finite(key, n, accepted) for n in self.items(key, (int, float), accepted)]

    def half_digit(self, key: str) -> float:
        """Return half a unit of the last digit that a list of numbers is printed to.

        That of the number with most decimals, since writers drop zeros at the end; 0 where all are
        whole, for these are exact.
        """
        printed = [number.text for number in self.raw[key] if isinstance(number, PrintedFloat)]
        return min((float(half_last_digit(text)) for text in printed), default=0.0)

    def table(self, key: str, known: Collection[str] | None) -> Table:
        """Return a table inside this one; an empty one where the key is absent."""
        accepted = f"a table, [{self.key_path(key)}]"
        raw = self._get(key, dict, accepted)
        return Table(self.file, self.key_path(key), {} if raw is None else raw, known)

    def named(self, known: Collection[str]) -> list[tuple[str, Table]]:
        """Return the tables in this one, whose keys are names that the user chose."""
        return [(name, self.table(name, known)) for name in self.raw]

    def tables(self, key: str, known: Collection[str], accepted: str) -> list[Table]:
        """Return the tables of a list, each known by its place: stages#1."""
        return [
            Table(self.file, f"{self.key_path(key)}#{place}", raw, known)
            for place, raw in enumerate(self.items(key, dict, accepted), 1)
        ]

    def _finite(self, key: str, value: float, accepted: str) -> float:
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            self.fail(key, f"found {shown(value)}", accepted)
        return number
