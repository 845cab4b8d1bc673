-- inferred_rides: one row a ride, what its samples say about themselves.
create table inferred_rides (
    ride text primary key,
    channel text not null,
    speed_lag_s double,
    spread double,
    gear_source text not null,
    other_share double,
    recorded_agreement double,
    recorded_lag_s double
);
comment on table inferred_rides is 'what was inferred about a ride as a whole; one row a measured ride';
comment on column inferred_rides.ride is 'ride [hexadecimal]';
comment on column inferred_rides.channel is 'speed field, distance field or none: which one was used, or weighs more in a mean of both [word]';
comment on column inferred_rides.speed_lag_s is 'by how much the speed trails the cadence [s]';
comment on column inferred_rides.spread is 'robust standard deviation of ln(development) within a gear [1]';
comment on column inferred_rides.gear_source is 'inferred, recorded, both or none: where the gear comes from [word]';
comment on column inferred_rides.other_share is 'weight of the other speed channel in a mean of both, 0 where one alone was used [1]';
comment on column inferred_rides.recorded_agreement is 'share of the coupled samples away from shifts in which the recorded gear is the inferred one, null without both [1]';
comment on column inferred_rides.recorded_lag_s is 'median time from recorded gear changes to inferred ones, null where too few go together [s]';
