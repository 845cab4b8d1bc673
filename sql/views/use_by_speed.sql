-- use_by_speed: one row a vehicle, speed band and gear that drove in it.
create view use_by_speed as
select
    vehicle,
    speed_from_mps,
    speed_from_mps + 1 as speed_to_mps,
    gear,
    development_from_m,
    sum(seconds) as seconds,
    sum(metres) as metres,
    sum(climb_m) as climb_m,
    sum(work_j) as work_j,
    sum(seconds) / sum(sum(seconds)) over (partition by vehicle, speed_from_mps) as share
from driven_gears
where speed_from_mps is not null
group by vehicle, speed_from_mps, gear, development_from_m
order by vehicle, speed_from_mps, gear, development_from_m;

comment on view use_by_speed is 'use of gears by speed band; one row a vehicle, speed band and gear, or band of developments where none can be named';
comment on column use_by_speed.vehicle is 'vehicle [name]';
comment on column use_by_speed.speed_from_mps is 'lower end of the speed band [m/s]';
comment on column use_by_speed.speed_to_mps is 'upper end of the speed band [m/s]';
comment on column use_by_speed.gear is 'engaged gear, null where none can be named [count]';
comment on column use_by_speed.development_from_m is 'lower end of the band of developments, half a metre wide, null where there are gears [m]';
comment on column use_by_speed.seconds is 'time that the crank drove [s]';
comment on column use_by_speed.metres is 'way in that time [m]';
comment on column use_by_speed.climb_m is 'rise in that time, null without altitudes [m]';
comment on column use_by_speed.work_j is 'power over that time as far as recorded, null where none was [J]';
comment on column use_by_speed.share is 'of the time that the crank drove in this speed band [1]';
