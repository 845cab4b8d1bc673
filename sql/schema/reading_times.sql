-- reading_times: one row a ride, what it took to read its file; goes and comes with the ride.
create table reading_times (
    ride text primary key,
    seconds double not null
);
comment on table reading_times is 'what it took to make a ride of its file; one row a ride';
comment on column reading_times.ride is 'ride [hexadecimal]';
comment on column reading_times.seconds is 'time for decoding it and for its moments, in the process that did it, storing not included [s]';
