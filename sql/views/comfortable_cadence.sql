-- comfortable_cadence: one row a vehicle, the cadences that suit its rider.
--
-- As the campaign states them; else as the rides show: the central 80 % of the time in gears that
-- have a neighbour on either side, for at the ends of a ladder a rider does not choose. It is what
-- a rider does, not what would suit best: who lugs a gear out of habit is said to be at ease. Less
-- than ten minutes tell nothing.
create view comfortable_cadence as
with chosen as (
    select
        recorded_rides.vehicle,
        cadence_rpm,
        sum(seconds) as seconds
    from ridden_cadences
    inner join recorded_rides using (ride)
    left join all_gears
        on recorded_rides.vehicle = all_gears.vehicle
        and ridden_cadences.gear = all_gears.gear
    left join inferred_vehicles on recorded_rides.vehicle = inferred_vehicles.vehicle
    where inferred_vehicles.stepless or not (all_gears.lowest or all_gears.highest)
    group by all
),

-- Share of the time below this cadence, and at it or below.
ranked as (
    select
        *,
        sum(seconds) over (partition by vehicle) as in_all,
        sum(seconds) over slower / sum(seconds) over (partition by vehicle) as share_until
    from chosen
    window slower as (
        partition by vehicle order by cadence_rpm rows unbounded preceding
    )
),

habits as (
    select
        vehicle,
        min(cadence_rpm) filter (where share_until >= 0.1) as low_rpm,
        min(cadence_rpm) filter (where share_until >= 0.9) as high_rpm
    from ranked
    where in_all >= 600
    group by vehicle
)

select
    stated_vehicles.vehicle,
    coalesce(stated_vehicles.comfortable_low_rpm, habits.low_rpm) as low_rpm,
    coalesce(stated_vehicles.comfortable_high_rpm, habits.high_rpm) as high_rpm,
    stated_vehicles.comfortable_low_rpm is not null as stated
from stated_vehicles
left join habits using (vehicle)
order by stated_vehicles.place;

comment on view comfortable_cadence is 'cadences that suit the rider; one row a vehicle';
comment on column comfortable_cadence.vehicle is 'vehicle [name]';
comment on column comfortable_cadence.low_rpm is 'least of them, null where neither stated nor shown by ten minutes of riding [rpm]';
comment on column comfortable_cadence.high_rpm is 'greatest of them, null where neither stated nor shown by ten minutes of riding [rpm]';
comment on column comfortable_cadence.stated is 'whether the campaign states them; else they are the central 80 % of what was ridden in gears with a neighbour on either side [true/false]';
