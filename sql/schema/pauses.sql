-- pauses: one row a stop of the recording's timer.
create table pauses (ride text not null, start_s double, end_s double);
comment on table pauses is 'stops of the recording''s timer; one row a stop';
comment on column pauses.ride is 'ride that was paused [hexadecimal]';
comment on column pauses.start_s is 'timer stopped, since the ride''s started_at [s]';
comment on column pauses.end_s is 'timer ran again, since the ride''s started_at [s]';
