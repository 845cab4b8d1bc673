-- ladder_health: one row a finding about a vehicle's ladder, or the word that there is none.
create table ladder_health (
    vehicle text not null,
    kind text not null check (kind in (
        'sound', 'not tested', 'wheel', 'gear off', 'gear drifts', 'gear scatters', 'ride apart'
    )),
    gear integer,
    ride text,
    finding text not null,
    size double,
    size_low double,
    size_high double,
    chance double,
    tests integer not null
);
comment on table ladder_health is 'departures of ladders from what is published, and from themselves; one row a finding, or one a vehicle without';
comment on column ladder_health.vehicle is 'name of the vehicle [name]';
comment on column ladder_health.kind is 'sound, not tested, or what departs: wheel (all gears from the stated rollout), gear off (from published, in all rides), gear drifts (with time), gear scatters (within rides), ride apart (all gears in one ride) [word]';
comment on column ladder_health.gear is 'gear concerned, null for what concerns all [count]';
comment on column ladder_health.ride is 'ride concerned, null for what concerns all [hexadecimal]';
comment on column ladder_health.finding is 'what was found, and what to look at [text]';
comment on column ladder_health.size is 'departure, as a share of the development; of a gear that scatters, its spread over that of the others, minus 1 [1]';
comment on column ladder_health.size_low is 'lower end of its 95 % interval [1]';
comment on column ladder_health.size_high is 'upper end of its 95 % interval [1]';
comment on column ladder_health.chance is 'how often chance alone would give a fleet a finding as clear as this, all tests of the fleet counted, after Holm; null where sound [1]';
comment on column ladder_health.tests is 'tests made of this vehicle [count]';
