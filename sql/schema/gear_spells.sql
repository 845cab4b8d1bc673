-- gear_spells: one row a spell of ten seconds or more that one gear was driven in.
create table gear_spells (
    ride text not null,
    start_s double not null,
    gear integer not null,
    seconds double not null,
    development_m double not null
);
comment on table gear_spells is 'spells of ten seconds or more in one gear, crank driving; one row a ride and start_s';
comment on column gear_spells.ride is 'ride [hexadecimal]';
comment on column gear_spells.start_s is 'its first sample, since the ride''s started_at, pauses count [s]';
comment on column gear_spells.gear is 'engaged gear, 1 = lowest [count]';
comment on column gear_spells.seconds is 'time driven in it, gaps left out [s]';
comment on column gear_spells.development_m is 'travel per crank turn, the median of its samples [m]';
