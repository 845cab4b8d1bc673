-- busiest_stretches: one row a vehicle, the ten minutes of its rides with the most shifts.
--
-- They begin at a full minute. Of equals, and where nothing was shifted, the one with the most
-- samples that have a development, then the earliest.
create view busiest_stretches as
with turned as (
    select
        vehicle,
        ride,
        cast(floor(t_s / 60) as integer) as minute,
        count(*) as pedalled
    from all_pedalled
    group by vehicle, ride, minute
),

shifted as (
    select
        ride,
        cast(floor(t_s / 60) as integer) as minute,
        count(*) as shifts
    from shifts
    group by ride, minute
),

stretches as (
    select
        turned.vehicle,
        turned.ride,
        turned.minute,
        sum(turned.pedalled) over ahead as pedalled,
        coalesce(sum(shifted.shifts) over ahead, 0) as shifts
    from turned
    left join shifted on turned.ride = shifted.ride and turned.minute = shifted.minute
    window ahead as (
        partition by turned.ride
        order by turned.minute
        range between current row and 9 following
    )
)

select distinct on (stretches.vehicle)
    stretches.vehicle,
    stretches.ride,
    cast(60 * stretches.minute as double) as from_s,
    cast(60 * stretches.minute + 600 as double) as to_s,
    cast(stretches.shifts as integer) as shifts
from stretches
inner join recorded_rides on stretches.ride = recorded_rides.ride
order by
    stretches.vehicle,
    stretches.shifts desc,
    stretches.pedalled desc,
    recorded_rides.started_at,
    stretches.ride,
    stretches.minute;

comment on view busiest_stretches is 'the ten minutes with the most shifts, in which gears are hardest to name; one row a vehicle that was pedalled';
comment on column busiest_stretches.vehicle is 'name of the vehicle [name]';
comment on column busiest_stretches.ride is 'ride that the stretch belongs to [hexadecimal]';
comment on column busiest_stretches.from_s is 'its beginning, since the ride''s started_at [s]';
comment on column busiest_stretches.to_s is 'its end, not included [s]';
comment on column busiest_stretches.shifts is 'shifts in it [count]';
