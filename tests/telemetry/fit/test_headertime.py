"""Times in header bytes, counted on from the last full one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hypothesis import given
from hypothesis import strategies as st

from ridelab.telemetry.fit.messages import decode
from tests.telemetry.fit import reference
from tests.telemetry.fitbytes import START, Layout, fit_file, table

if TYPE_CHECKING:
    from ridelab.telemetry.fit.table import Form

FULL = Layout("record", ("timestamp", "cadence"))
SHORT = Layout("record", ("cadence",), local=1)
OTHER = Layout("event", ("timestamp", "event"), local=2)
FIRST = START // 32 * 32


def times(*messages: bytes) -> list[float | None]:
    """The times of the records, in seconds after FIRST."""
    found = decode(fit_file(FULL.definition(), SHORT.definition(), OTHER.definition(), *messages))
    return (found["record"]["timestamp"] - FIRST).to_list()


def test_the_example_of_the_protocol_reads_as_printed_there() -> None:
    """FIT protocol, table of compressed timestamps: 0x3B, then offsets, rollover and all.

    The sequence of its worked example, from memory: from ...3B the offsets 1B, 1D, 02, 05, 01
    give ...3B, 3D, 42, 45, 61.
    """
    base = FIRST // 256 * 256
    short = [SHORT.compressed(offset, 60) for offset in (0x1B, 0x1D, 0x02, 0x05, 0x01)]
    found = times(FULL.data(base + 0x3B, 60), *short)
    offsets = (0x3B, 0x3B, 0x3D, 0x42, 0x45, 0x61)
    assert found == [base - FIRST + offset for offset in offsets]


def test_the_time_of_any_message_is_counted_on_from() -> None:
    """Here an event says the hour anew."""
    event = OTHER.data(FIRST + 3200, 0)
    assert times(FULL.data(FIRST, 60), event, SHORT.compressed(5, 60)) == [0, 3205]


def test_a_full_time_in_the_same_message_goes_first() -> None:
    """A layout with a time of its own, sent with a time in its header, too."""
    assert times(FULL.compressed(9, FIRST + 100, 60)) == [100]


def test_each_part_counts_from_zero() -> None:
    """Nothing of the part before holds in the next."""
    one = fit_file(table(FULL, (FIRST + 7, 60)))
    other = fit_file(SHORT.definition(), SHORT.compressed(3, 60))
    assert decode(one + other)["record"]["timestamp"].to_list() == [FIRST + 7, 3]


@given(
    st.lists(
        st.one_of(
            st.tuples(st.just("full"), st.integers(0, 10_000)),
            st.tuples(st.just("short"), st.integers(0, 31)),
            st.tuples(st.just("event"), st.integers(0, 10_000)),
            st.tuples(st.just("unknown"), st.just(0)),
        ),
        max_size=30,
    )
)
def test_any_mixture_gives_the_times_that_fitdecode_gives(mixture: list[tuple[str, int]]) -> None:
    """Full times, times in headers, other messages and times that are not known."""
    messages = [piece(kind, t_s) for kind, t_s in mixture]
    content = fit_file(FULL.definition(), SHORT.definition(), OTHER.definition(), *messages)
    wanted: dict[str, dict[str, Form]] = {
        "record": {"timestamp": "number"},
        "event": {"timestamp": "number"},
    }
    for name, table_of in reference.tables(content, wanted).items():
        assert decode(content, wanted)[name].equals(table_of)


def piece(kind: str, t_s: int) -> bytes:
    """A message of a kind at a time, in seconds after FIRST, or at the low bits of one."""
    if kind == "short":
        return SHORT.compressed(t_s, 60)
    if kind == "event":
        return OTHER.data(FIRST + t_s, 0)
    return FULL.data(FIRST + t_s if kind == "full" else None, 60)
