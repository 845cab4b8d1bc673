-- numbered_rides: one row a ride whose samples stand in ridden_samples.
--
-- A number joins and groups many times as fast as the 64 letters that a ride is known by.
create table numbered_rides (
    ride text primary key,
    number integer not null
);
comment on table numbered_rides is 'numbers of rides in ridden_samples; one row a ride, anew whenever what is known of it changes';
comment on column numbered_rides.ride is 'ride [hexadecimal]';
comment on column numbered_rides.number is 'what stands for it in ridden_samples [count]';
