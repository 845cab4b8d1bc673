-- derivations: one row a relation that a query filled, so that it is not filled again for nothing.
create table derivations (relation text primary key, fingerprint text not null);
comment on table derivations is 'what each relation of a query stage, and each stage that rests while nothing changes, was made from; one row each';
comment on column derivations.relation is 'name of the relation, or "stage" and the name of a stage of the package [name]';
comment on column derivations.fingerprint is 'SHA-256 of the query and of what it reads [hexadecimal]';
