-- samples: one row a sample, as recorded beside the gear that was engaged.
create view samples as
select
    recorded.ride,
    recorded.t_s,
    recorded.speed_mps,
    recorded.cadence_rpm,
    recorded.power_w,
    recorded.altitude_m,
    recorded.distance_m,
    recorded.lat_deg,
    recorded.lon_deg,
    engaged.development_m,
    engaged.gear,
    engaged.coupled,
    engaged.gear_probability,
    engaged.recorded_gear,
    recorded.n,
    recorded.timer_running,
    recorded.wheel_power_w
from recorded_samples as recorded
left join engaged_samples as engaged
    on recorded.ride = engaged.ride and recorded.n = engaged.n;

comment on view samples is 'samples; one row a ride and n';
comment on column samples.ride is 'ride the sample belongs to [hexadecimal]';
comment on column samples.t_s is 'since the ride''s started_at, pauses count [s]';
comment on column samples.speed_mps is 'the file''s speed field [m/s]';
comment on column samples.cadence_rpm is 'crank turns per minute [rpm]';
comment on column samples.power_w is 'power as recorded, at the crank where two are [W]';
comment on column samples.altitude_m is 'altitude as recorded [m]';
comment on column samples.distance_m is 'the file''s own running distance [m]';
comment on column samples.lat_deg is 'latitude, WGS 84 [degree]';
comment on column samples.lon_deg is 'longitude, WGS 84 [degree]';
comment on column samples.development_m is 'travel per crank turn, lag taken out, null where undefined [m]';
comment on column samples.gear is 'selected gear, 1 = lowest, also while decoupled, null where none can be named [count]';
comment on column samples.coupled is 'whether the crank drives the wheel, null where nothing can be said [true/false]';
comment on column samples.gear_probability is 'posterior probability of the gear [1]';
comment on column samples.recorded_gear is 'gear as recorded by electronic shifting [count]';
comment on column samples.n is 'place of the sample in its ride, from 0 [count]';
comment on column samples.timer_running is 'false while the recording was paused [true/false]';
comment on column samples.wheel_power_w is 'power at the driven wheel or hub as recorded, null where only one is [W]';
