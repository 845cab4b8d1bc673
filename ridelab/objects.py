"""Object stores: the URLs that a campaign or ``--lake`` may name, and all that is done to them.

Credentials and endpoint come from the environment of each process that asks (``AWS_*``), and what
a library says of them is never passed on: every error is an OSError in words of our own.
"""

from __future__ import annotations

import errno
import hashlib
import re
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from ridelab.errors import NotAccepted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

#: What a URL may begin with. Everything else that libraries would take, such as http or one URL
#: within another (``zip::…``), could be led anywhere.
_BUCKET = re.compile(r"s3://[a-z0-9][a-z0-9.-]{1,61}[a-z0-9](/|$)")
_FILE = "file://"
_HAS_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+(://|::)")
_SECRET = re.compile(r"//[^/]*@")
_UNFIT = re.compile(r"[\0-\x1f\x7f?#]|::|/\.{1,2}(/|$)")
_ACCEPTED = "a path, file:///… or s3://bucket/…, without name, password, '?', '#', '::' and '..'"
_SETTINGS = {"connect_timeout": 5, "read_timeout": 60, "retries": {"max_attempts": 2}}
_SECOND_NS = 1_000_000_000


@dataclass(frozen=True, order=True)
class Remote:
    """An object, as a listing tells of it.

    ``stamp_ns``: when it was last changed, since 1970. Stores tell that in whole seconds; the rest
    is made of the entity tag, so that two contents of one second and size are told apart.
    """

    url: str
    size_bytes: int
    stamp_ns: int

    def __str__(self) -> str:
        """Return the URL."""
        return self.url


def is_url(text: str) -> bool:
    """Whether a text is meant as a URL, or as two of them in one another."""
    return _HAS_SCHEME.match(text) is not None


def is_object(text: str) -> bool:
    """Whether a checked text is the URL of an object store."""
    return text.startswith("s3://")


def checked(text: str) -> str:
    """Return a path or URL that ridelab may use, ``file://`` as the path that it is.

    Raises:
        NotAccepted: any other URL; a password in it is not told.
    """
    if not is_url(text):
        return text
    if text.startswith(f"{_FILE}/") and "::" not in text:
        return text.removeprefix(_FILE)
    if not _BUCKET.match(text) or _UNFIT.search(text.removeprefix("s3:/")) or "@" in _host(text):
        raise NotAccepted(repr(_SECRET.sub("//…@", text)), _ACCEPTED)
    return text


def stored_form(path: str) -> str:
    """Return what a path became of a URL back to that URL; any other path as it is."""
    return re.sub(r"^s3:/(?=[^/])", "s3://", path)


def bucket_of(url: str) -> str:
    """Return the bucket of a URL."""
    return url.removeprefix("s3://").partition("/")[0]


def matching(pattern: str) -> list[Remote]:
    """Return the objects that a glob matches, by their URLs; hidden ones left out, as of files.

    Raises:
        OSError: the store cannot be asked, or there is no such bucket.
    """
    with _told():
        found = _files().glob(pattern, detail=True)
        if not found:
            _files().info(bucket_of(pattern))  # an empty answer may mean that there is none
    remotes = (
        _remote(f"s3://{name}", facts)
        for name, facts in found.items()
        if facts["type"] == "file" and not _hidden(name, pattern)
    )
    return sorted(remotes)


def read(url: str, most: int) -> bytes | None:
    """Return the content of an object, None where it has more than so many bytes.

    Raises:
        OSError: it cannot be had.
    """
    with _told():
        if _files().info(url)["size"] > most:
            return None
        content: bytes = _files().cat_file(url)
    return content


def read_all(urls: Sequence[str]) -> list[bytes]:
    """Return the contents of several objects, asked for side by side.

    Raises:
        OSError: one cannot be had.
    """
    with _told():
        found = _files().cat(list(urls), on_error="raise")
    by_name = found if isinstance(found, dict) else {_name(urls[0]): found}
    return [by_name[_name(url)] for url in urls]


def write_all(contents: Mapping[str, bytes]) -> None:
    """Make several objects side by side, each whole or not at all, by their URLs.

    Raises:
        OSError: one cannot be written; others may have been.
    """
    with _told():
        _files().pipe(dict(contents))


def remove(url: str) -> None:
    """Remove an object; one that is not there does no harm.

    Raises:
        OSError: it cannot be removed.
    """
    with _told():
        _files().rm_file(url)


def size(url: str) -> int:
    """Return how many bytes an object has.

    Raises:
        OSError: it cannot be asked for; FileNotFoundError for what only begins the names of others.
    """
    with _told():
        facts = _files().info(url)
        if facts["type"] != "file":
            raise FileNotFoundError
        return int(facts["size"])


@cache
def _files() -> Any:  # noqa: ANN401 - the library has no types
    """Connect once a process; nothing of what is listed is kept."""
    import fsspec

    return fsspec.filesystem(
        "s3", skip_instance_cache=True, use_listings_cache=False, config_kwargs=_SETTINGS
    )


@contextmanager
def _told() -> Iterator[None]:
    """Turn whatever goes wrong into an OSError in our words.

    Raises:
        OSError: FileNotFoundError where there is no such object or bucket.
    """
    try:
        yield
    except FileNotFoundError as error:
        raise FileNotFoundError(errno.ENOENT, "no such object or bucket") from error
    except ImportError as error:
        told = "object stores need what `pip install 'ridelab[cluster]'` installs"
        raise OSError(errno.ENOSYS, told) from error
    except Exception as error:  # noqa: BLE001 - the libraries have a hundred of their own
        raise OSError(errno.EIO, _words(error)) from None


def _words(error: Exception) -> str:
    kind = type(error).__name__
    if "Credential" in kind:
        return "the environment has no credentials for it (AWS_ACCESS_KEY_ID and its like)"
    if isinstance(error, PermissionError):
        return "not permitted with the credentials of the environment"
    if isinstance(error, OSError | TimeoutError) or "Connect" in kind or "Timeout" in kind:
        return "the object store does not answer; AWS_ENDPOINT_URL says where it is"
    return f"the object store refuses ({kind})"


def _remote(url: str, facts: dict[str, Any]) -> Remote:
    changed = int(facts["LastModified"].timestamp())
    tag = hashlib.sha256(str(facts.get("ETag")).encode()).digest()
    return Remote(url, facts["size"], changed * _SECOND_NS + int.from_bytes(tag[:4]) % _SECOND_NS)


def _hidden(name: str, pattern: str) -> bool:
    """Whether a part of a name begins with a dot that the pattern does not ask for."""
    return "/." in name and "/." not in pattern


def _name(url: str) -> str:
    return url.removeprefix("s3://")


def _host(url: str) -> str:
    return url.partition("//")[2].partition("/")[0]
