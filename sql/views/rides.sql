-- rides: one row a ride, recorded facts beside what was inferred about it.
create view rides as
select
    ride,
    vehicle,
    path,
    sha256,
    format,
    started_at,
    duration_s,
    distance_m,
    samples,
    speed_source,
    speed_lag_s,
    gear_source,
    channel,
    spread,
    sensors,
    cadence_resolution_rpm,
    wheel_rollout_m,
    other_share,
    recorded_agreement,
    recorded_lag_s,
    device
from recorded_rides
left join inferred_rides using (ride)
order by started_at, ride;

comment on view rides is 'rides; one row a ride';
comment on column rides.ride is 'SHA-256 of the file''s content, which is what a ride is known by [hexadecimal]';
comment on column rides.vehicle is 'vehicle that was ridden, null where the campaign no longer claims the ride, or another recording stands for it [name]';
comment on column rides.path is 'file it was read from, relative to the campaign''s folder where inside it [path]';
comment on column rides.sha256 is 'of the file''s content [hexadecimal]';
comment on column rides.format is 'format of the file [word]';
comment on column rides.started_at is 'time of the first record kept [UTC]';
comment on column rides.duration_s is 'from the first record to the last, pauses included [s]';
comment on column rides.distance_m is 'by the file''s own count, null where it has none [m]';
comment on column rides.samples is 'samples recorded [count]';
comment on column rides.speed_source is 'wheel sensor, satellite, unknown or none: where the speed comes from [word]';
comment on column rides.speed_lag_s is 'by how much the speed trails the cadence [s]';
comment on column rides.gear_source is 'inferred, recorded, both or none: where the gear comes from [word]';
comment on column rides.channel is 'speed field, distance field or none: which one was used, or weighs more in a mean of both [word]';
comment on column rides.spread is 'robust standard deviation of ln(development) within a gear [1]';
comment on column rides.sensors is 'paired sensors, comma between [words]';
comment on column rides.cadence_resolution_rpm is 'smallest step of the cadence as recorded [rpm]';
comment on column rides.wheel_rollout_m is 'wheel circumference set in the recording device, null where not told [m]';
comment on column rides.other_share is 'weight of the other speed channel in a mean of both, 0 where one alone was used [1]';
comment on column rides.recorded_agreement is 'share of the coupled samples away from shifts in which the recorded gear is the inferred one, null without both [1]';
comment on column rides.recorded_lag_s is 'median time from recorded gear changes to inferred ones, null where too few go together [s]';
comment on column rides.device is 'serial number of the unit that recorded it, null where the file tells none [text]';
