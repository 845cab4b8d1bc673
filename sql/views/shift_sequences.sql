-- shift_sequences: one row a vehicle and sequence of shifts that fewer would have replaced.
--
-- A sequence is two shifts or more in one ride, each within 5 s of the one before; it could be
-- simpler where it goes there and back: the gear it ends in is fewer gears away than it passed.
-- Up two and down one is up one, with two gears too many. There and back where it began is hunting
-- and counts as well: no shift would have done.
create view shift_sequences as
with told as (
    select
        recorded_rides.vehicle,
        shifts.*,
        coalesce(
            shifts.t_s - lag(shifts.t_s) over in_ride > 5
            or shifts.from_gear <> lag(shifts.to_gear) over in_ride,
            true
        ) as starts
    from shifts
    inner join recorded_rides using (ride)
    where recorded_rides.vehicle is not null
    window in_ride as (partition by shifts.ride order by shifts.t_s)
),

numbered as (
    select
        *,
        count(*) filter (where starts) over (
            partition by ride order by t_s rows unbounded preceding
        ) as place
    from told
),

sequences as (
    select
        vehicle,
        ride,
        min(t_s) as t_s,
        first(from_gear order by t_s) as from_gear,
        last(to_gear order by t_s) as to_gear,
        concat_ws(
            ' ',
            first(from_gear order by t_s),
            string_agg(cast(to_gear as text), ' ' order by t_s)
        ) as gears,
        count(*) as shifts,
        cast(
            sum(abs(to_gear - from_gear))
            - abs(last(to_gear order by t_s) - first(from_gear order by t_s)) as integer
        ) as gears_too_many
    from numbered
    group by vehicle, ride, place
    having count(*) > 1
)

select
    vehicle,
    gears,
    from_gear,
    to_gear,
    any_value(gears_too_many) as gears_too_many,
    count(*) as times,
    first(ride order by ride, t_s) as example_ride,
    first(t_s order by ride, t_s) as example_t_s
from sequences
where gears_too_many > 0
group by vehicle, gears, from_gear, to_gear
order by vehicle, times desc, gears_too_many desc, gears;

comment on view shift_sequences is 'shifts that fewer would have replaced, most frequent first; one row a vehicle and gears';
comment on column shift_sequences.vehicle is 'vehicle [name]';
comment on column shift_sequences.gears is 'gears from the first to the last, each within 5 s of the one before, with spaces between [text]';
comment on column shift_sequences.from_gear is 'gear it began in [count]';
comment on column shift_sequences.to_gear is 'gear it ended in [count]';
comment on column shift_sequences.gears_too_many is 'gears passed beyond those between the first and the last [count]';
comment on column shift_sequences.times is 'how often [count]';
comment on column shift_sequences.example_ride is 'a ride in which it happened [hexadecimal]';
comment on column shift_sequences.example_t_s is 'when it began there, since the ride''s started_at [s]';
