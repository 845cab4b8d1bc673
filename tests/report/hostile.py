"""Names that attack whoever shows them: as markup, script, path, formula, or by their length."""

HOSTILE = (
    "</script><script>window.BROKEN=1</script>",
    "<img src=x onerror=window.BROKEN=1>",
    "\"'` onmouseover=window.BROKEN=1 &amp;",
    "\u202eright to left\u202c \u200f mark",
    "{{datum.constructor}} ${window.BROKEN=1} \\u003c",
    "control \x07\x1b[31m characters",
    "ten thousand " + "x" * 9_987,
    "../../outside",
    "/etc/outside",
    "=cmd|' /C calc'!A1",
    "no character \ufffe\uffff in XML",
    "a|b",
)
