"""Contracts of the store's relations: one TOML file a relation, checked on stores with rides."""
