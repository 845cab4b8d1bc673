"""The store: one DuckDB file that holds what was recorded, stated, inferred and concluded."""

from ridelab.store.reads import beneath, tables_read
from ridelab.store.recordings import READER, Owner, ReadFile, Road, StoredFile
from ridelab.store.schema import own_relations
from ridelab.store.store import Column, Store
from ridelab.store.text import storable

__all__ = [
    "READER",
    "Column",
    "Owner",
    "ReadFile",
    "Road",
    "Store",
    "StoredFile",
    "beneath",
    "own_relations",
    "storable",
    "tables_read",
]
