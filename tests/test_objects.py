"""URLs that may be named, and what an object store of our own says to them."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest

from ridelab import objects
from ridelab.errors import NotAccepted
from tests.object_store import KEY, SECRET, Bucket, bucket

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture(scope="module")
def store() -> Iterator[Bucket]:
    """One server for all tests."""
    with bucket("invented-rides") as made:
        yield made


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("rides/*.fit", "rides/*.fit"),
        ("C:/rides/*.fit", "C:/rides/*.fit"),
        ("a::b.fit", "a::b.fit"),
        ("file:///mnt/share/*.fit", "/mnt/share/*.fit"),
        ("s3://bucket-1/demo fleet/**/*.fit", "s3://bucket-1/demo fleet/**/*.fit"),
        ("s3://bucket/.hidden/a@b.fit", "s3://bucket/.hidden/a@b.fit"),
    ],
)
def test_paths_and_buckets_may_be_named(text: str, found: str) -> None:
    """``file`` is another word for a path."""
    assert objects.checked(text) == found


@pytest.mark.parametrize(
    "text",
    [
        "http://127.0.0.1/a.fit",
        "https://example.org/a.fit",
        "ftp://host/a.fit",
        "memory://a.fit",
        "github://o:r@main/a.fit",
        "zip::s3://bucket/a.zip",
        "zip://*.fit::s3://bucket/a.zip",
        "simplecache::s3://bucket/a.fit",
        "filecache::http://host/a.fit",
        "s3://bucket/a.fit::http://host/",
        "s3a://bucket/a.fit",
        "S3://bucket/a.fit",
        "s3://Bucket/a.fit",
        "s3://b/a.fit",
        "s3:///a.fit",
        "s3://bucket:9000/a.fit",
        "s3://bucket/../other/a.fit",
        "s3://bucket/./a.fit",
        "s3://bucket/a.fit?versionId=1",
        "s3://bucket/a.fit#x",
        "s3://bucket/a\n.fit",
        "file://host/share/a.fit",
        "file:///a.fit::http://host",
    ],
)
def test_everything_else_is_refused(text: str) -> None:
    """Each of these would lead somewhere that no campaign should."""
    with pytest.raises(NotAccepted, match=r"accepted: a path, file:///… or s3://bucket/…, "):
        objects.checked(text)


def test_password_in_a_url_is_refused_and_not_repeated() -> None:
    """Messages are kept in logs and passed on."""
    with pytest.raises(NotAccepted) as refusal:
        objects.checked("s3://someone:hidden-word@bucket/a.fit")
    assert "hidden-word" not in str(refusal.value)
    assert "s3://…@bucket/a.fit" in str(refusal.value)


def test_objects_are_found_as_files_are(store: Bucket) -> None:
    """By the same globs; hidden ones only where they are asked for."""
    for key in ("g/a.fit", "g/b.FIT", "g/.c.fit", "g/x/d.fit", "g/x/e.txt"):
        store.put(key, key.encode())
    expected = {
        "g/*.fit": ["g/a.fit"],
        "g/**/*.fit": ["g/a.fit", "g/x/d.fit"],
        "g/?/[de].*": ["g/x/d.fit", "g/x/e.txt"],
        "g/.*": ["g/.c.fit"],
        "g/a.fit": ["g/a.fit"],
        "none/*": [],
    }
    for pattern, keys in expected.items():
        found = objects.matching(store.url(pattern))
        assert [one.url for one in found] == [store.url(key) for key in keys]
    [one] = objects.matching(store.url("g/a.fit"))
    assert (one.size_bytes, objects.size(one.url), str(one)) == (7, 7, one.url)


def test_same_size_and_second_with_another_content_is_another_stamp(store: Bucket) -> None:
    """A store tells times in whole seconds."""
    store.put("stamp", b"one")
    [before] = objects.matching(store.url("stamp"))
    store.put("stamp", b"two")
    [after] = objects.matching(store.url("stamp"))
    assert before.stamp_ns != after.stamp_ns
    store.put("stamp", b"two")
    [again] = objects.matching(store.url("stamp"))
    assert (again.stamp_ns - after.stamp_ns) % 1_000_000_000 == 0


def test_content_is_read_and_removed(store: Bucket) -> None:
    """Not more of it than was asked for; to remove what is not there does no harm."""
    url = store.put("content", b"12345")
    assert objects.read(url, 5) == b"12345"
    assert objects.read(url, 4) is None
    objects.remove(url)
    objects.remove(url)
    with pytest.raises(FileNotFoundError, match="no such object or bucket"):
        objects.read(url, 5)


def test_bucket_that_is_not_there_is_no_empty_one(store: Bucket) -> None:
    """A slip of the pen in a campaign does not mean that all rides are gone."""
    assert store.keys("nothing/") == []
    for asked in (objects.matching, objects.size, objects.remove):
        with pytest.raises(FileNotFoundError, match="no such object or bucket"):
            asked("s3://no-such-bucket/*.fit")


def test_errors_are_in_words_of_our_own(store: Bucket, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without anything of the credentials, or of what the libraries said, in or behind them."""
    said = {
        PermissionError("key invented-key-id"): "not permitted with the credentials of the ",
        TimeoutError("invented-secret"): "the object store does not answer; AWS_ENDPOINT_URL says",
        type("NoCredentialsError", (Exception,), {})("x"): "the environment has no credentials ",
        ValueError("invented-secret"): r"the object store refuses \(ValueError\)",
    }
    for error, words in said.items():

        def failing(*_: object, error: Exception = error) -> None:
            raise error

        monkeypatch.setattr(objects._files(), "pipe", failing)
        with pytest.raises(OSError, match=words) as told:
            store.put("x", b"")
        assert told.value.__suppress_context__
        assert KEY not in str(told.value)
        assert SECRET not in str(told.value)


def test_missing_extra_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the command that brings it."""
    monkeypatch.setitem(sys.modules, "fsspec", None)
    objects._files.cache_clear()
    with pytest.raises(OSError, match="object stores need what `pip install 'ridelab"):
        objects.matching("s3://bucket/*.fit")


def test_store_that_does_not_answer_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Within seconds."""
    pytest.importorskip("s3fs", reason="the extra `cluster` is not installed")
    monkeypatch.setenv("AWS_ENDPOINT_URL", "http://127.0.0.1:1")
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", KEY)
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", SECRET)
    objects._files.cache_clear()
    with pytest.raises(OSError, match="the object store does not answer"):
        objects.matching("s3://bucket/*.fit")
    objects._files.cache_clear()
