-- vehicles: one row a vehicle of the campaign, what is stated beside what the rides show.
create view vehicles as
select
    vehicle,
    kind,
    drivetrain,
    stated_rollout_m,
    effective_rollout_m,
    effective_rollout_low_m,
    effective_rollout_high_m,
    nominal_rollout_m,
    loaded_rollout_low_m,
    loaded_rollout_high_m,
    stepless,
    placement_probability,
    unexplained_share,
    count_probability,
    tyre,
    rollout_is_measured,
    odometer_km,
    other_tyres,
    sensor_wheel,
    set_rollout_m,
    unit_factor
from stated_vehicles
left join inferred_vehicles using (vehicle)
order by place;

comment on view vehicles is 'vehicles of the campaign; one row a vehicle';
comment on column vehicles.vehicle is 'name of the vehicle [name]';
comment on column vehicles.kind is 'bicycle, trike, tandem, cargo or velomobile [word]';
comment on column vehicles.drivetrain is 'its drivetrain, null where the campaign publishes none [name]';
comment on column vehicles.stated_rollout_m is 'travel per wheel turn as stated: measured, else nominal for the tyre [m]';
comment on column vehicles.effective_rollout_m is 'travel per wheel turn as ridden [m]';
comment on column vehicles.effective_rollout_low_m is 'lower end of its 95 % interval [m]';
comment on column vehicles.effective_rollout_high_m is 'upper end of its 95 % interval [m]';
comment on column vehicles.stepless is 'whether the ratio varies continuously, null where not measured [true/false]';
comment on column vehicles.placement_probability is 'posterior probability that the published ladder sits where it was placed, null without one and where stepless [1]';
comment on column vehicles.unexplained_share is 'share of the steady pedalling that fits no gear of the published ladder, null without one and where stepless [1]';
comment on column vehicles.count_probability is 'posterior probability that as many gears were ridden as were measured, null with a published ladder and where no gear can be named [1]';
comment on column vehicles.tyre is 'ISO 5775 designation on the driven wheel [section mm-bead seat mm]';
comment on column vehicles.rollout_is_measured is 'whether the stated rollout was measured [true/false]';
comment on column vehicles.odometer_km is 'distance before the first ride [km]';
comment on column vehicles.nominal_rollout_m is 'travel per turn of the unloaded wheel by its tyre, pi times (bead seat + 2 section widths) [m]';
comment on column vehicles.loaded_rollout_low_m is 'least of what such a tyre rolls under its load as a rule, 3 % less than nominal [m]';
comment on column vehicles.loaded_rollout_high_m is 'most of what such a tyre rolls under its load as a rule, 1 % less than nominal [m]';
comment on column vehicles.other_tyres is 'ISO 5775 designations on wheels that are not driven, null where none is stated [section mm-bead seat mm]';
comment on column vehicles.sensor_wheel is 'tyre of the wheel whose turns the speed sensor counts, null where not stated [section mm-bead seat mm]';
comment on column vehicles.set_rollout_m is 'travel per wheel turn that the recording unit is set to, null where not stated [m]';
comment on column vehicles.unit_factor is 'recorded over true development, by what the unit is set to and its sensor counts, null where not stated [1]';
