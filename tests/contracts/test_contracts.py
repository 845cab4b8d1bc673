"""Every relation keeps what its contract promises where there are rides; what breaks is told."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.store import Store, own_relations
from tests.contracts import contract
from tests.report.fabricated import FabricatedStore

if TYPE_CHECKING:
    from pathlib import Path


def test_every_relation_has_a_contract() -> None:
    """Tables and views alike; no contract outlives its relation."""
    assert set(contract.names()) == own_relations()


@pytest.mark.parametrize("relation", contract.names())
@pytest.mark.parametrize("store", ["demo", "odds_and_ends"])
def test_relation_keeps_its_contract(
    relation: str, store: str, request: pytest.FixtureRequest
) -> None:
    """Key, what is never null, references, accepted words, truths."""
    assert contract.read(relation).broken(request.getfixturevalue(store)) == []


def test_no_contract_is_held_against_nothing(demo: Store, odds_and_ends: Store) -> None:
    """Each relation has rows in one of the stores, or it would keep any promise."""
    empty = [
        relation
        for relation in contract.names()
        if demo.frame(relation).is_empty() and odds_and_ends.frame(relation).is_empty()
    ]
    assert empty == []


@pytest.fixture
def broken() -> FabricatedStore:
    """A store whose published ladder is wrong in every way that a contract knows."""
    store = FabricatedStore()
    gear = {"drivetrain": "d", "label": "x", "ratio_low": 1.0, "ratio_high": 1.0}
    store.add("published_gears", *({**gear, "gear": 1, "ratio": 1.0} for _ in range(2)))
    store.add("published_gears", {**gear, "gear": 3, "ratio": 0.9, "step": 0.5})
    store.add("stated_vehicles", _vehicle(1, "heron"), _vehicle(2, "otter") | {"kind": "rowboat"})
    store.add("inferences", {"vehicle": "stork", "fingerprint": "f"})
    store.add("schema_version", *({"version": n, "views": "v"} for n in (1, 2)))
    return store


def _vehicle(place: int, name: str) -> dict[str, object]:
    return {"place": place, "vehicle": name, "kind": "trike", "rollout_is_measured": True}


@pytest.mark.parametrize(
    ("relation", "said"),
    [
        ("published_gears", "one row a drivetrain, gear: broken by 1 rows: {'drivetrain': 'd', "),
        ("published_gears", "gears count from 1 without a hole: broken by 1 rows: "),
        ("published_gears", "a step is the ratio over the gear below: broken by 1 rows: "),
        ("stated_vehicles", "kind is one of 'bicycle', 'trike', 'tandem', 'cargo', 'velomobile': "),
        ("stated_vehicles", "a measured rollout is stated: broken by 2 rows: "),
        ("inferences", "vehicle -> inferred_vehicles: broken by 1 rows: {'vehicle': 'stork', "),
        ("schema_version", "one row at most: broken by 1 rows: {'rows': 2}"),
    ],
)
def test_broken_promise_says_relation_promise_and_rows(
    broken: FabricatedStore, relation: str, said: str
) -> None:
    """So that whoever broke it need not look for it."""
    found = contract.read(relation).broken(broken)
    assert [text for text in found if text.startswith(f"{relation}: {said}")]


def test_null_in_a_key_is_told_unless_the_contract_allows_it(tmp_path: Path) -> None:
    """A key with a null in it names nothing."""
    with Store.open(tmp_path / "s.duckdb") as store:
        store.fill("users_own", "select null::text as ride, 1 as n", "state")
        strict = contract.Contract("users_own", ("ride", "n"))
        assert strict.broken(store) == [
            "users_own: ride is not null: broken by 1 rows: {'ride': None, 'n': 1}"
        ]
        allowed = contract.Contract("users_own", ("ride", "n"), nullable_key=("ride",))
        assert allowed.broken(store) == []
