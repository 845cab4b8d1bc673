-- ridden_cadences: one row a ride, gear (or band of development) and cadence, while the crank drove the wheel.
create table ridden_cadences (
    ride text not null,
    gear integer,
    cadence_rpm integer not null,
    seconds double not null,
    development_m double
);
comment on table ridden_cadences is 'cadences while the crank drove the wheel; one row a ride, gear or band of development, and whole rpm';
comment on column ridden_cadences.ride is 'ride [hexadecimal]';
comment on column ridden_cadences.gear is 'engaged gear, null where none can be named [count]';
comment on column ridden_cadences.cadence_rpm is 'cadence, rounded to whole turns [rpm]';
comment on column ridden_cadences.seconds is 'time [s]';
comment on column ridden_cadences.development_m is 'mean travel per crank turn in a band of 2 %, null where a gear is named [m]';
