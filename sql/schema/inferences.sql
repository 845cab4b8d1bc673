-- inferences: one row a measured vehicle, so that what did not change is not measured again.
create table inferences (vehicle text primary key, fingerprint text not null);
comment on table inferences is 'what each vehicle was measured from; one row a measured vehicle';
comment on column inferences.vehicle is 'name of the vehicle [name]';
comment on column inferences.fingerprint is 'SHA-256 of rides, ladder, rollout and method [hexadecimal]';
