-- recorded_rides: one row a ride, as its file tells it.
create table recorded_rides (
    ride text primary key,
    vehicle text,
    path text not null,
    sha256 text not null,
    format text not null,
    started_at timestamptz not null,
    duration_s double not null,
    distance_m double,
    samples integer not null,
    speed_source text not null,
    sensors text not null,
    cadence_resolution_rpm double not null,
    wheel_rollout_m double,
    reader text not null,
    barometer boolean,
    device text
);
comment on table recorded_rides is 'rides as recorded; one row a ride, never changed by what is inferred';
comment on column recorded_rides.ride is 'SHA-256 of the file''s content, which is what a ride is known by [hexadecimal]';
comment on column recorded_rides.vehicle is 'vehicle that was ridden, null where the campaign no longer claims the ride, or another recording stands for it [name]';
comment on column recorded_rides.path is 'file it was read from, relative to the campaign''s folder where inside it [path]';
comment on column recorded_rides.sha256 is 'of the file''s content [hexadecimal]';
comment on column recorded_rides.format is 'format of the file [word]';
comment on column recorded_rides.started_at is 'time of the first record kept [UTC]';
comment on column recorded_rides.duration_s is 'from the first record to the last, pauses included [s]';
comment on column recorded_rides.distance_m is 'by the file''s own count, null where it has none [m]';
comment on column recorded_rides.samples is 'samples recorded [count]';
comment on column recorded_rides.speed_source is 'wheel sensor, satellite, unknown or none: where the speed comes from [word]';
comment on column recorded_rides.sensors is 'paired sensors, comma between [words]';
comment on column recorded_rides.cadence_resolution_rpm is 'smallest step of the cadence as recorded [rpm]';
comment on column recorded_rides.wheel_rollout_m is 'wheel circumference set in the recording device, null where not told [m]';
comment on column recorded_rides.reader is 'version of the readers that read the file; where loggers may have written it, their hash too [version]';
comment on column recorded_rides.device is 'serial number of the unit that recorded it, null where the file tells none [text]';
comment on column recorded_rides.barometer is 'whether the file lists a barometer among the unit''s parts [true/false]';
