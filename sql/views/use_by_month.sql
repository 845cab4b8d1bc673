-- use_by_month: one row a vehicle, month and gear that drove in it.
create view use_by_month as
select
    vehicle,
    month,
    gear,
    development_from_m,
    sum(seconds) as seconds,
    sum(metres) as metres,
    sum(climb_m) as climb_m,
    sum(work_j) as work_j,
    sum(seconds) / sum(sum(seconds)) over (partition by vehicle, month) as share
from driven_gears
group by vehicle, month, gear, development_from_m
order by vehicle, month, gear, development_from_m;

comment on view use_by_month is 'use of gears by month; one row a vehicle, month and gear, or band of developments where none can be named';
comment on column use_by_month.vehicle is 'vehicle [name]';
comment on column use_by_month.month is 'first day of the month the rides began in, UTC [date]';
comment on column use_by_month.gear is 'engaged gear, null where none can be named [count]';
comment on column use_by_month.development_from_m is 'lower end of the band of developments, half a metre wide, null where there are gears [m]';
comment on column use_by_month.seconds is 'time that the crank drove [s]';
comment on column use_by_month.metres is 'way in that time [m]';
comment on column use_by_month.climb_m is 'rise in that time, null without altitudes [m]';
comment on column use_by_month.work_j is 'power over that time as far as recorded, null where none was [J]';
comment on column use_by_month.share is 'of the time that the crank drove in this month [1]';
