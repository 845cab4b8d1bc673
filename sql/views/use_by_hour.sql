-- use_by_hour: one row a vehicle, hour of the ride and gear that drove in it.
create view use_by_hour as
select
    vehicle,
    hour,
    gear,
    development_from_m,
    sum(seconds) as seconds,
    sum(metres) as metres,
    sum(climb_m) as climb_m,
    sum(work_j) as work_j,
    sum(seconds) / sum(sum(seconds)) over (partition by vehicle, hour) as share
from driven_gears
group by vehicle, hour, gear, development_from_m
order by vehicle, hour, gear, development_from_m;

comment on view use_by_hour is 'use of gears by hour of the ride; one row a vehicle, hour of the ride and gear, or band of developments where none can be named';
comment on column use_by_hour.vehicle is 'vehicle [name]';
comment on column use_by_hour.hour is 'hour of the ride, 1 = the first, pauses counted [count]';
comment on column use_by_hour.gear is 'engaged gear, null where none can be named [count]';
comment on column use_by_hour.development_from_m is 'lower end of the band of developments, half a metre wide, null where there are gears [m]';
comment on column use_by_hour.seconds is 'time that the crank drove [s]';
comment on column use_by_hour.metres is 'way in that time [m]';
comment on column use_by_hour.climb_m is 'rise in that time, null without altitudes [m]';
comment on column use_by_hour.work_j is 'power over that time as far as recorded, null where none was [J]';
comment on column use_by_hour.share is 'of the time that the crank drove in this hour of the ride [1]';
