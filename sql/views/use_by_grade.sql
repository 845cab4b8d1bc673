-- use_by_grade: one row a vehicle, grade band and gear that drove in it.
--
-- Rides without altitudes are not in it.
create view use_by_grade as
select
    vehicle,
    grade_from,
    grade_from + 0.02 as grade_to,
    gear,
    development_from_m,
    sum(seconds) as seconds,
    sum(metres) as metres,
    sum(climb_m) as climb_m,
    sum(work_j) as work_j,
    sum(seconds) / sum(sum(seconds)) over (partition by vehicle, grade_from) as share
from driven_gears
where grade_from is not null
group by vehicle, grade_from, gear, development_from_m
order by vehicle, grade_from, gear, development_from_m;

comment on view use_by_grade is 'use of gears by grade band; one row a vehicle, grade band and gear, or band of developments where none can be named';
comment on column use_by_grade.vehicle is 'vehicle [name]';
comment on column use_by_grade.grade_from is 'lower end of the grade band; everything below the next in the lowest [1]';
comment on column use_by_grade.grade_to is 'upper end of the grade band; everything above in the highest [1]';
comment on column use_by_grade.gear is 'engaged gear, null where none can be named [count]';
comment on column use_by_grade.development_from_m is 'lower end of the band of developments, half a metre wide, null where there are gears [m]';
comment on column use_by_grade.seconds is 'time that the crank drove [s]';
comment on column use_by_grade.metres is 'way in that time [m]';
comment on column use_by_grade.climb_m is 'rise in that time, null without altitudes [m]';
comment on column use_by_grade.work_j is 'power over that time as far as recorded, null where none was [J]';
comment on column use_by_grade.share is 'of the time that the crank drove in this grade band [1]';
