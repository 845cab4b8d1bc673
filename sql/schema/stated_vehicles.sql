-- stated_vehicles: one row a vehicle, as the campaign states it.
create table stated_vehicles (
    place integer not null,
    vehicle text primary key,
    kind text not null,
    drivetrain text,
    tyre text,
    stated_rollout_m double,
    rollout_is_measured boolean not null,
    odometer_km double
);
comment on table stated_vehicles is 'vehicles as the campaign states them; one row a vehicle';
comment on column stated_vehicles.place is 'place of the vehicle in the campaign file, from 1 [count]';
comment on column stated_vehicles.vehicle is 'name of the vehicle [name]';
comment on column stated_vehicles.kind is 'bicycle, trike, tandem, cargo or velomobile [word]';
comment on column stated_vehicles.drivetrain is 'its drivetrain, null where the campaign publishes none [name]';
comment on column stated_vehicles.tyre is 'ISO 5775 designation on the driven wheel [section mm-bead seat mm]';
comment on column stated_vehicles.stated_rollout_m is 'travel per wheel turn as stated: measured, else nominal for the tyre [m]';
comment on column stated_vehicles.rollout_is_measured is 'whether the stated rollout was measured [true/false]';
comment on column stated_vehicles.odometer_km is 'distance before the first ride [km]';
