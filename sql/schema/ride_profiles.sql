-- ride_profiles: one row a ride, where its altitudes come from and how much it climbs.
create table ride_profiles (
    ride text primary key,
    altitude_source text not null check (altitude_source in ('barometric', 'satellite', 'unknown', 'none')),
    resolution_m double,
    dead_band_m double,
    climb_m double,
    descent_m double,
    lowest_m double,
    highest_m double
);
comment on table ride_profiles is 'altitude and climbing of each ride; one row a ride';
comment on column ride_profiles.ride is 'ride [hexadecimal]';
comment on column ride_profiles.altitude_source is 'barometric, satellite, unknown (neither file nor data tell) or none: where altitudes come from [word]';
comment on column ride_profiles.resolution_m is 'length of road that heights are averaged over, twice; null without a profile [m]';
comment on column ride_profiles.dead_band_m is 'least rise or fall that is counted; null without a profile [m]';
comment on column ride_profiles.climb_m is 'sum of all rises of the smoothed profile above the dead band; null without a profile [m]';
comment on column ride_profiles.descent_m is 'sum of all falls of the smoothed profile above the dead band; null without a profile [m]';
comment on column ride_profiles.lowest_m is 'least altitude recorded, null without altitudes [m]';
comment on column ride_profiles.highest_m is 'greatest altitude recorded, null without altitudes [m]';
