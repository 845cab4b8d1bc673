-- inferred_vehicles: one row a measured vehicle.
create table inferred_vehicles (
    vehicle text primary key,
    effective_rollout_m double,
    effective_rollout_low_m double,
    effective_rollout_high_m double,
    stepless boolean not null,
    placement_probability double,
    unexplained_share double,
    count_probability double
);
comment on table inferred_vehicles is 'what was inferred about a vehicle as a whole; one row a measured vehicle';
comment on column inferred_vehicles.vehicle is 'name of the vehicle [name]';
comment on column inferred_vehicles.effective_rollout_m is 'travel per wheel turn as ridden [m]';
comment on column inferred_vehicles.effective_rollout_low_m is 'lower end of its 95 % interval [m]';
comment on column inferred_vehicles.effective_rollout_high_m is 'upper end of its 95 % interval [m]';
comment on column inferred_vehicles.stepless is 'whether the ratio varies continuously [true/false]';
comment on column inferred_vehicles.placement_probability is 'posterior probability that the published ladder sits where it was placed, null without one and where stepless [1]';
comment on column inferred_vehicles.unexplained_share is 'share of the steady pedalling that fits no gear of the published ladder, null without one and where stepless [1]';
comment on column inferred_vehicles.count_probability is 'posterior probability that as many gears were ridden as were measured, null with a published ladder and where no gear can be named [1]';
