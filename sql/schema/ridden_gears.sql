-- ridden_gears: one row a ride, hour of it, gear or development band, coupling, grade and speed band.
create table ridden_gears (
    ride text not null,
    hour integer not null,
    gear integer,
    development_from_m double,
    coupled boolean,
    grade_from double,
    speed_from_mps double,
    seconds double not null,
    metres double,
    climb_m double,
    work_j double,
    powered_s double not null
);
comment on table ridden_gears is 'how gears were ridden; one row a ride, hour, gear or development band, coupling, grade band and speed band';
comment on column ridden_gears.ride is 'ride [hexadecimal]';
comment on column ridden_gears.hour is 'hour of the ride, 1 = the first, pauses counted [count]';
comment on column ridden_gears.gear is 'selected gear, null where none can be named [count]';
comment on column ridden_gears.development_from_m is 'lower end of the band of developments, half a metre wide; only where the crank drove and no gear can be named [m]';
comment on column ridden_gears.coupled is 'whether the crank drove the wheel, null where nothing can be said [true/false]';
comment on column ridden_gears.grade_from is 'lower end of the grade band, 2 % wide, the outermost open; null without grade [1]';
comment on column ridden_gears.speed_from_mps is 'lower end of the speed band, 1 m/s wide, null without speed [m/s]';
comment on column ridden_gears.seconds is 'time [s]';
comment on column ridden_gears.metres is 'way, null without speed and distance [m]';
comment on column ridden_gears.climb_m is 'rise, null without altitudes [m]';
comment on column ridden_gears.work_j is 'power over time, where power was recorded; null where none was [J]';
comment on column ridden_gears.powered_s is 'time with recorded power [s]';
