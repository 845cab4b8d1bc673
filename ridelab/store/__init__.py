"""The store: one DuckDB file that holds what was recorded, stated, inferred and concluded."""

from ridelab.store.inferred import engaged_rows
from ridelab.store.reads import beneath, tables_read
from ridelab.store.recordings import READER, Owner, ReadFile, Road, StoredFile, rows_of_ride
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
    "engaged_rows",
    "own_relations",
    "rows_of_ride",
    "storable",
    "tables_read",
]
