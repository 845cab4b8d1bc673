-- recorded_samples: one row a sample of a ride, as its file tells it.
-- Without a key: one would make loading seven times as slow and the file three times as large.
create table recorded_samples (
    ride text not null,
    n integer not null,
    t_s double not null,
    speed_mps double,
    cadence_rpm double,
    power_w double,
    wheel_power_w double,
    altitude_m double,
    distance_m double,
    lat_deg double,
    lon_deg double,
    timer_running boolean
);
comment on table recorded_samples is 'samples as recorded; one row a ride and n';
comment on column recorded_samples.ride is 'ride the sample belongs to [hexadecimal]';
comment on column recorded_samples.n is 'place of the sample in its ride, from 0 [count]';
comment on column recorded_samples.t_s is 'since the ride''s started_at, pauses count [s]';
comment on column recorded_samples.speed_mps is 'the file''s speed field [m/s]';
comment on column recorded_samples.cadence_rpm is 'crank turns per minute [rpm]';
comment on column recorded_samples.power_w is 'power as recorded, at the crank where two are [W]';
comment on column recorded_samples.wheel_power_w is 'power at the driven wheel or hub as recorded, null where only one is [W]';
comment on column recorded_samples.altitude_m is 'altitude as recorded [m]';
comment on column recorded_samples.distance_m is 'the file''s own running distance [m]';
comment on column recorded_samples.lat_deg is 'latitude, WGS 84 [degree]';
comment on column recorded_samples.lon_deg is 'longitude, WGS 84 [degree]';
comment on column recorded_samples.timer_running is 'false while the recording was paused [true/false]';
