-- test_ride_plan: one row a vehicle and gear to ride, so that undecided claims can be decided.
create table test_ride_plan (
    vehicle text not null,
    gear integer not null,
    seconds double not null,
    spells integer not null,
    speed_low_mps double,
    speed_high_mps double,
    cadence_low_rpm double not null,
    cadence_high_rpm double not null,
    claims text not null,
    instruction text not null
);
comment on table test_ride_plan is 'the shortest test ride that should decide what is undecided; one row a vehicle and gear to ride';
comment on column test_ride_plan.vehicle is 'vehicle to ride [name]';
comment on column test_ride_plan.gear is 'gear to ride in [count]';
comment on column test_ride_plan.seconds is 'steady pedalling in it, all spells together [s]';
comment on column test_ride_plan.spells is 'in how many spells, each broken by another gear or a rest [count]';
comment on column test_ride_plan.speed_low_mps is 'ride no slower than this, null where no wheel is stated [m/s]';
comment on column test_ride_plan.speed_high_mps is 'no faster pedalling is needed than this, null where no wheel is stated [m/s]';
comment on column test_ride_plan.cadence_low_rpm is 'cadence that goes with the lower speed [rpm]';
comment on column test_ride_plan.cadence_high_rpm is 'cadence that goes with the higher speed [rpm]';
comment on column test_ride_plan.claims is 'ids of the claims that all rows of the vehicle that name them would decide, by commas [names]';
comment on column test_ride_plan.instruction is 'the same in one sentence [text]';
