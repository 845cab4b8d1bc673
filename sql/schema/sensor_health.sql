-- sensor_health: one row a ride of a vehicle, what its sensors left out or told wrongly.
create table sensor_health (
    ride text primary key,
    vehicle text not null,
    moving_s double not null,
    no_cadence_share double,
    no_speed_share double,
    cadence_dropouts integer not null,
    longest_silence_s double not null,
    held_cadence_s double not null,
    stray_share double,
    state text not null check (state in ('sound', 'look', 'failing', 'too short')),
    finding text
);
comment on table sensor_health is 'what the sensors of each ride left out or told wrongly; one row a ride of a vehicle';
comment on column sensor_health.ride is 'ride [hexadecimal]';
comment on column sensor_health.vehicle is 'vehicle [name]';
comment on column sensor_health.moving_s is 'time that it rolled, 1 m/s or more [s]';
comment on column sensor_health.no_cadence_share is 'of that time, the part without any cadence, zero not counted [1]';
comment on column sensor_health.no_speed_share is 'of the time that the crank turned, the part without any speed or distance [1]';
comment on column sensor_health.cadence_dropouts is 'times that the cadence went missing while it rolled, and came back [count]';
comment on column sensor_health.longest_silence_s is 'longest time without a record, pauses of the timer left out [s]';
comment on column sensor_health.held_cadence_s is 'time in which one cadence was repeated for a minute or more while the speed changed by a tenth [s]';
comment on column sensor_health.stray_share is 'of the time that the crank turned at 30 rpm or more, the part in which it took less than 0.7 of the lowest gear, as a cadence counted twice or missed turns of the wheel make it; null without a measured ladder [1]';
comment on column sensor_health.state is 'sound, look, failing, or too short (neither rolled nor pedalled for five minutes) [word]';
comment on column sensor_health.finding is 'what speaks for that, null where sound or too short [text]';
