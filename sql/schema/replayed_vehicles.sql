-- replayed_vehicles: one row a replayed vehicle, so that what did not change is not replayed again.
create table replayed_vehicles (vehicle text primary key, fingerprint text not null);
comment on table replayed_vehicles is 'what the replays of each vehicle follow from; one row a vehicle with replays';
comment on column replayed_vehicles.vehicle is 'name of the vehicle [name]';
comment on column replayed_vehicles.fingerprint is 'SHA-256 of its rides, shifts, ladders, cadences and the method [hexadecimal]';
