-- ridden_samples: one row a sample, all that analyses ask of it side by side, rides in one piece.
--
-- What is recorded, what a sample stands for and which gear was engaged come at different times,
-- into tables of their own. Every analysis reads them together: they are joined once, here, and
-- their rows laid down in order of ride and time. The store does so for rides that are new or
-- changed, before it fills a relation from them.
create table ridden_samples (
    number integer not null,
    n integer not null,
    t_s double not null,
    speed_mps double,
    no_speed boolean,
    cadence_rpm double,
    power_w double,
    development_m double,
    gear integer,
    coupled boolean,
    gear_probability double,
    seconds double,
    metres double,
    grade double,
    climb_m double
);
comment on table ridden_samples is 'samples as analyses read them, laid down in order; one row a number and n';
comment on column ridden_samples.number is 'of the ride, see numbered_rides [count]';
comment on column ridden_samples.n is 'place of the sample in its ride, from 0 [count]';
comment on column ridden_samples.t_s is 'since the ride''s started_at, pauses count [s]';
comment on column ridden_samples.speed_mps is 'the file''s speed field [m/s]';
comment on column ridden_samples.no_speed is 'whether neither a speed nor a distance was recorded [true/false]';
comment on column ridden_samples.cadence_rpm is 'crank turns per minute [rpm]';
comment on column ridden_samples.power_w is 'power as recorded, at the crank where two are [W]';
comment on column ridden_samples.development_m is 'travel per crank turn, lag taken out, null where undefined [m]';
comment on column ridden_samples.gear is 'selected gear, 1 = lowest, null where none can be named [count]';
comment on column ridden_samples.coupled is 'whether the crank drives the wheel, null where nothing can be said [true/false]';
comment on column ridden_samples.gear_probability is 'posterior probability of the gear [1]';
comment on column ridden_samples.seconds is 'time until the next sample, 10 s at most, none across a pause of the timer; null before the stage moments [s]';
comment on column ridden_samples.metres is 'way in that time, by the distance field where it grows, else by speed [m]';
comment on column ridden_samples.grade is 'rise of that way over its length, smoothed over ride_profiles.resolution_m, null without altitudes [1]';
comment on column ridden_samples.climb_m is 'rise in that time, of swings above ride_profiles.dead_band_m, 0 downhill, null without altitudes [m]';
