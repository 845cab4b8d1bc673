-- driven_gears: the rows of ridden_gears in which a vehicle's crank drove its wheel.
--
-- Where gears can be named, what fits none of them is stray and left out; where none can (stepless
-- drivetrains among them), bands of development stand for gears.
create view driven_gears as
with of_vehicles as (
    select
        recorded_rides.vehicle,
        cast(date_trunc('month', recorded_rides.started_at) as date) as month,
        ridden_gears.*
    from ridden_gears
    inner join recorded_rides using (ride)
    where recorded_rides.vehicle is not null and ridden_gears.coupled
),

marked as (
    select *, bool_or(gear is not null) over (partition by vehicle) as has_gears
    from of_vehicles
)

select * exclude (coupled, has_gears)
from marked
where gear is not null or (not has_gears and development_from_m is not null);

comment on view driven_gears is 'how gears drove; one row a ride, hour, gear or development band, grade band and speed band';
comment on column driven_gears.vehicle is 'vehicle [name]';
comment on column driven_gears.month is 'first day of the month the ride began in, UTC [date]';
comment on column driven_gears.ride is 'ride [hexadecimal]';
comment on column driven_gears.hour is 'hour of the ride, 1 = the first, pauses counted [count]';
comment on column driven_gears.gear is 'engaged gear, null where the vehicle has none to name [count]';
comment on column driven_gears.development_from_m is 'lower end of the band of developments, half a metre wide, null where there are gears [m]';
comment on column driven_gears.grade_from is 'lower end of the grade band, 2 % wide, the outermost open; null without grade [1]';
comment on column driven_gears.speed_from_mps is 'lower end of the speed band, 1 m/s wide, null without speed [m/s]';
comment on column driven_gears.seconds is 'time [s]';
comment on column driven_gears.metres is 'way, null without speed and distance [m]';
comment on column driven_gears.climb_m is 'rise, null without altitudes [m]';
comment on column driven_gears.work_j is 'power over time, where power was recorded; null where none was [J]';
comment on column driven_gears.powered_s is 'time with recorded power [s]';
