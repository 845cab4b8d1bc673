-- engaged_samples: one row a sample of a measured ride, the gear that was engaged.
create table engaged_samples (
    ride text not null,
    n integer not null,
    development_m double,
    gear integer,
    coupled boolean,
    gear_probability double,
    recorded_gear integer
);
comment on table engaged_samples is 'the engaged gear as inferred; one row a ride and n';
comment on column engaged_samples.ride is 'ride the sample belongs to [hexadecimal]';
comment on column engaged_samples.n is 'place of the sample in its ride, from 0 [count]';
comment on column engaged_samples.development_m is 'travel per crank turn, lag taken out, null where undefined [m]';
comment on column engaged_samples.gear is 'selected gear, 1 = lowest, null where none can be named [count]';
comment on column engaged_samples.coupled is 'whether the crank drives the wheel, null where nothing can be said [true/false]';
comment on column engaged_samples.gear_probability is 'posterior probability of the gear [1]';
comment on column engaged_samples.recorded_gear is 'gear as recorded by electronic shifting [count]';
