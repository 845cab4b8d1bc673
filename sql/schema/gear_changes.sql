-- gear_changes: one row an event of an electronic shifting system.
create table gear_changes (
    ride text not null,
    n integer not null,
    t_s double not null,
    front_gear integer,
    front_teeth integer,
    rear_gear integer,
    rear_teeth integer
);
comment on table gear_changes is 'gear changes recorded by electronic shifting; one row an event';
comment on column gear_changes.ride is 'ride the event belongs to [hexadecimal]';
comment on column gear_changes.n is 'place of the event in its ride, from 0 [count]';
comment on column gear_changes.t_s is 'since the ride''s started_at [s]';
comment on column gear_changes.front_gear is 'position in front as the system counts, null where not told [count]';
comment on column gear_changes.front_teeth is 'teeth of the wheel engaged in front, null where not told [teeth]';
comment on column gear_changes.rear_gear is 'position at the rear as the system counts, null where not told [count]';
comment on column gear_changes.rear_teeth is 'teeth of the wheel engaged at the rear, null where not told [teeth]';
