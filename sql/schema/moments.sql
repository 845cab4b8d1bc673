-- moments: one row a sample, what it stands for until the next sample of its ride.
create table moments (
    ride text not null,
    n integer not null,
    seconds double not null,
    metres double,
    grade double,
    climb_m double
);
comment on table moments is 'what each sample stands for, until the next; one row a ride and n';
comment on column moments.ride is 'ride the sample belongs to [hexadecimal]';
comment on column moments.n is 'place of the sample in its ride, from 0 [count]';
comment on column moments.seconds is 'time until the next sample, 10 s at most, none across a pause of the timer [s]';
comment on column moments.metres is 'way in that time, by the distance field where it grows, else by speed [m]';
comment on column moments.grade is 'rise of that way over its length, smoothed over ride_profiles.resolution_m, null without altitudes [1]';
comment on column moments.climb_m is 'rise in that time, of swings above ride_profiles.dead_band_m, 0 downhill, null without altitudes [m]';
