-- stated_vehicles: one row a vehicle, as the campaign states it.
create table stated_vehicles (
    place integer not null,
    vehicle text primary key,
    kind text not null,
    drivetrain text,
    tyre text,
    stated_rollout_m double,
    rollout_is_measured boolean not null,
    odometer_km double,
    nominal_rollout_m double,
    loaded_rollout_low_m double,
    loaded_rollout_high_m double,
    other_tyres text,
    sensor_wheel text,
    set_rollout_m double,
    unit_factor double,
    comfortable_low_rpm double,
    comfortable_high_rpm double,
    service_every_km double,
    service_every_months double
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
comment on column stated_vehicles.nominal_rollout_m is 'travel per turn of the unloaded wheel by its tyre, pi times (bead seat + 2 section widths) [m]';
comment on column stated_vehicles.loaded_rollout_low_m is 'least of what such a tyre rolls under its load as a rule, 3 % less than nominal [m]';
comment on column stated_vehicles.loaded_rollout_high_m is 'most of what such a tyre rolls under its load as a rule, 1 % less than nominal [m]';
comment on column stated_vehicles.other_tyres is 'ISO 5775 designations on wheels that are not driven, null where none is stated [section mm-bead seat mm]';
comment on column stated_vehicles.sensor_wheel is 'tyre of the wheel whose turns the speed sensor counts, null where not stated [section mm-bead seat mm]';
comment on column stated_vehicles.set_rollout_m is 'travel per wheel turn that the recording unit is set to, null where not stated [m]';
comment on column stated_vehicles.unit_factor is 'recorded over true development, by what the unit is set to and its sensor counts, null where not stated [1]';
comment on column stated_vehicles.comfortable_low_rpm is 'least cadence that suits the rider as stated, null where not stated [rpm]';
comment on column stated_vehicles.comfortable_high_rpm is 'greatest cadence that suits the rider as stated, null where not stated [rpm]';
comment on column stated_vehicles.service_every_km is 'way after which the maker of its drivetrain wants it serviced, null where not stated [km]';
comment on column stated_vehicles.service_every_months is 'time after which the maker of its drivetrain wants it serviced, null where not stated [month]';
