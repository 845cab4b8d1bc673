-- derived_rides: one row a relation that a query fills ride by ride, and ride that it was filled for.
create table derived_rides (
    relation text not null,
    ride text not null,
    fingerprint text not null
);
comment on table derived_rides is 'what the rows of each ride were made from, in relations filled ride by ride; one row a relation and ride';
comment on column derived_rides.relation is 'name of the relation [name]';
comment on column derived_rides.ride is 'ride [hexadecimal]';
comment on column derived_rides.fingerprint is 'SHA-256 of the query, of the ride and of what was inferred about its vehicle [hexadecimal]';
