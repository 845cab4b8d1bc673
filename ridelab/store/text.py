"""Names from file systems and files, as text that every reader of the store can print."""

from __future__ import annotations


def storable(text: str) -> str:
    r"""Return the text as UTF-8 can hold it; bytes that are no text become ``\udc..``.

    File names may be any bytes; Python carries those that are no UTF-8 along as lone surrogates.
    """
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
