-- shift_habits: one row a vehicle, how often and how its rider shifts.
--
-- A shift is a sweep, see shifts. Hunting: a shift and, within ten seconds, the one that undoes it.
create view shift_habits as
with ridden as (
    select
        recorded_rides.vehicle,
        sum(ridden_gears.metres) / 1000 as km,
        sum(ridden_gears.seconds) filter (where ridden_gears.speed_from_mps >= 1) / 60 as minutes
    from ridden_gears
    inner join recorded_rides using (ride)
    inner join inferred_rides using (ride)
    inner join inferred_vehicles on recorded_rides.vehicle = inferred_vehicles.vehicle
    -- Where no gear can be named, no shift can be seen.
    where inferred_rides.gear_source <> 'none' and not inferred_vehicles.stepless
    group by recorded_rides.vehicle
),

told as (
    select
        recorded_rides.vehicle,
        shifts.*,
        coalesce(
            shifts.from_gear = lag(shifts.to_gear) over in_ride
            and shifts.to_gear = lag(shifts.from_gear) over in_ride
            and shifts.t_s - lag(shifts.t_s) over in_ride <= 10,
            false
        ) as undoes
    from shifts
    inner join recorded_rides using (ride)
    where recorded_rides.vehicle is not null
    window in_ride as (partition by shifts.ride order by shifts.t_s)
),

counted as (
    select
        vehicle,
        count(*) as shifts,
        count(*) filter (where to_gear > from_gear) as up,
        count(*) filter (where to_gear < from_gear) as down,
        count(*) filter (where abs(to_gear - from_gear) > 1) as several_gears,
        count(*) filter (where not while_decoupled) as under_load,
        count(*) filter (where while_decoupled) as while_coasting,
        count(*) filter (where undoes) as hunting
    from told
    group by vehicle
)

select
    ridden.vehicle,
    ridden.km,
    ridden.minutes,
    coalesce(shifts, 0) as shifts,
    coalesce(shifts, 0) / nullif(ridden.km, 0) as shifts_per_km,
    coalesce(shifts, 0) / nullif(ridden.minutes, 0) as shifts_per_minute,
    coalesce(up, 0) as up,
    coalesce(down, 0) as down,
    coalesce(several_gears, 0) as several_gears,
    coalesce(under_load, 0) as under_load,
    coalesce(while_coasting, 0) as while_coasting,
    coalesce(hunting, 0) as hunting
from ridden
left join counted using (vehicle)
order by ridden.vehicle;

comment on view shift_habits is 'how often and how the rider shifts; one row a vehicle whose gears can be named';
comment on column shift_habits.vehicle is 'vehicle [name]';
comment on column shift_habits.km is 'way ridden, rides in which no gear can be named left out [km]';
comment on column shift_habits.minutes is 'time ridden at 1 m/s and more in these rides [min]';
comment on column shift_habits.shifts is 'shifts, each a sweep in one direction [count]';
comment on column shift_habits.shifts_per_km is 'shifts over the way [1/km]';
comment on column shift_habits.shifts_per_minute is 'shifts over the time [1/min]';
comment on column shift_habits.up is 'shifts to a higher gear [count]';
comment on column shift_habits.down is 'shifts to a lower gear [count]';
comment on column shift_habits.several_gears is 'shifts over more than one gear at once [count]';
comment on column shift_habits.under_load is 'shifts without more than 3 s in which the crank did not drive [count]';
comment on column shift_habits.while_coasting is 'shifts made while the crank did not drive for more than 3 s [count]';
comment on column shift_habits.hunting is 'shifts that undo the one before within 10 s [count]';
