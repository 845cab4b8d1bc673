"""A server on the loopback address that speaks S3, with one bucket."""

from __future__ import annotations

import logging
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from ridelab import objects

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Of nobody: the server takes any.
KEY, SECRET = "invented-key-id", "invented-secret"


@dataclass(frozen=True)
class Bucket:
    """A bucket, and the environment that leads to it."""

    name: str
    environment: dict[str, str]

    def url(self, key: str) -> str:
        """Return the URL of an object."""
        return f"s3://{self.name}/{key}"

    def put(self, key: str, content: bytes) -> str:
        """Make an object; return its URL."""
        objects.write_all({self.url(key): content})
        return self.url(key)

    def keys(self, prefix: str = "") -> list[str]:
        """Return the keys that there are."""
        found = objects.matching(self.url(f"{prefix}**"))
        return [one.url.removeprefix(self.url("")) for one in found]


@contextmanager
def bucket(name: str) -> Iterator[Bucket]:
    """Start a server and make a bucket; this process finds it by its environment."""
    pytest.importorskip("s3fs", reason="the extra `cluster` is not installed")
    moto = pytest.importorskip("moto.server", reason="no local object store is installed")
    logging.getLogger("werkzeug").setLevel(logging.CRITICAL)
    server = moto.ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    environment = {
        "AWS_ACCESS_KEY_ID": KEY,
        "AWS_SECRET_ACCESS_KEY": SECRET,
        "AWS_DEFAULT_REGION": "us-east-1",
        "AWS_ENDPOINT_URL": f"http://{host}:{port}",
        "AWS_EC2_METADATA_DISABLED": "true",
    }
    with pytest.MonkeyPatch.context() as patched:
        for variable, value in environment.items():
            patched.setenv(variable, value)
        objects._files.cache_clear()
        try:
            objects._files().makedirs(
                name, exist_ok=True
            )  # a server forgets nothing in its process
            yield Bucket(name, environment)
        finally:
            server.stop()
            objects._files.cache_clear()
