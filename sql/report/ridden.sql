-- ridden: one row a ride, with how much of it could be named and how often it was shifted.
with named as (
    select
        ride,
        count(gear) as named
    from engaged_samples
    group by ride
),

shifted as (
    select
        ride,
        count(*) as shifts,
        count(*) filter (where to_gear > from_gear) as up,
        count(*) filter (where to_gear < from_gear) as down,
        count(*) filter (where while_decoupled) as coasting
    from shifts
    group by ride
)

select
    rides.*,
    coalesce(named.named, 0) / rides.samples as named_share,
    coalesce(shifted.shifts, 0) as shifts,
    coalesce(shifted.up, 0) as shifts_up,
    coalesce(shifted.down, 0) as shifts_down,
    coalesce(shifted.coasting, 0) as shifts_coasting
from rides
left join named on rides.ride = named.ride
left join shifted on rides.ride = shifted.ride
order by rides.vehicle, rides.started_at, rides.path
