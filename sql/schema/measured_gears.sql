-- measured_gears: one row a gear that was engaged and coupled for 10 s or more.
create table measured_gears (
    vehicle text not null,
    gear integer not null,
    label text,
    ratio double,
    ratio_low double,
    ratio_high double,
    development_m double,
    development_low_m double,
    development_high_m double,
    published_ratio double,
    deviation double,
    seconds double,
    distance_m double,
    rides integer
);
comment on table measured_gears is 'the measured ladders; one row a vehicle and gear engaged for 10 s or more';
comment on column measured_gears.vehicle is 'name of the vehicle [name]';
comment on column measured_gears.gear is 'number of the gear, 1 = lowest ratio [count]';
comment on column measured_gears.label is 'every combination that makes this gear [text]';
comment on column measured_gears.ratio is 'development over the effective rollout: wheel turns per crank turn [1]';
comment on column measured_gears.ratio_low is 'lower end of its 95 % interval, the common scale left out [1]';
comment on column measured_gears.ratio_high is 'upper end of its 95 % interval, the common scale left out [1]';
comment on column measured_gears.development_m is 'travel per crank turn [m]';
comment on column measured_gears.development_low_m is 'lower end of its 95 % interval, the scale included [m]';
comment on column measured_gears.development_high_m is 'upper end of its 95 % interval, the scale included [m]';
comment on column measured_gears.published_ratio is 'ratio as published, null without a published drivetrain [1]';
comment on column measured_gears.deviation is 'ratio over published ratio, minus 1 [1]';
comment on column measured_gears.seconds is 'time engaged and coupled [s]';
comment on column measured_gears.distance_m is 'way travelled engaged and coupled [m]';
comment on column measured_gears.rides is 'rides in which it was engaged [count]';
