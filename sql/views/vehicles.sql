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
    stepless,
    placement_probability,
    unexplained_share,
    count_probability,
    tyre,
    rollout_is_measured,
    odometer_km
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
