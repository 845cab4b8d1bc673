"""Names from files and campaigns that try to be more than text."""

from __future__ import annotations

HOSTILE = (
    "</script><script>document.title='owned'</script>",
    "\u202eevil\u2066 right to left",
    "bell\x07 and \x1b[31mred",
    "<img src=x onerror=alert(1)>",
    "long " * 2000,
    "a|b",
)
