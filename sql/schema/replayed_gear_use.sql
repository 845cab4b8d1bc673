-- replayed_gear_use: one row a gear of a replay.
create table replayed_gear_use (
    vehicle text not null,
    drivetrain text,
    policy text not null,
    assumption text not null,
    gear integer not null,
    label text not null,
    development_m double not null,
    seconds double not null,
    share double
);
comment on table replayed_gear_use is 'time in each gear of a replay; one row a vehicle, drivetrain, policy, assumption and gear';
comment on column replayed_gear_use.vehicle is 'vehicle whose rides are replayed [name]';
comment on column replayed_gear_use.drivetrain is 'drivetrain they are replayed on, null for a ridden one that the campaign does not publish [name]';
comment on column replayed_gear_use.policy is 'as ridden, looking ahead (least discomfort and shifts of all ways to shift, the road known) or by habit (as this rider shifts) [word]';
comment on column replayed_gear_use.assumption is 'speed as ridden, or effort as ridden: what stays as it was [word]';
comment on column replayed_gear_use.gear is 'number of the gear, 1 = lowest ratio [count]';
comment on column replayed_gear_use.label is 'every combination that makes this gear [text]';
comment on column replayed_gear_use.development_m is 'travel per crank turn [m]';
comment on column replayed_gear_use.seconds is 'time in which the crank drove in it [s]';
comment on column replayed_gear_use.share is 'share of the time in which the crank drove in a gear [1]';
