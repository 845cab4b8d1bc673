-- unassigned_rides: one row a ride that no rule of the campaign, or more than one, gives a vehicle.
create table unassigned_rides (
    ride text primary key,
    path text not null,
    started_at timestamptz not null,
    device text,
    reason text not null
);
comment on table unassigned_rides is 'rides that are stored but belong to no known vehicle; one row a ride';
comment on column unassigned_rides.ride is 'ride [hexadecimal]';
comment on column unassigned_rides.path is 'file it was read from, relative to the campaign''s folder where inside it [path]';
comment on column unassigned_rides.started_at is 'time of the first record kept [UTC]';
comment on column unassigned_rides.device is 'serial number of the unit that recorded it, null where the file tells none [text]';
comment on column unassigned_rides.reason is 'which rules gave it to different vehicles, or that none gave it any [text]';
