-- stretch: one row a second of the busiest stretch of each vehicle, its first sample.
--
-- hold counts the times in one gear, from 1. level_m is the development of the gear: as measured,
-- else as published on the rollout that the rides show. state is "driving", "without drive",
-- "in doubt" (the probability of the gear is below 0.8, or nothing tells whether the crank drives)
-- or "no gear", if the crank drives, but in none that can be named. A sample stands for the time to
-- the next one, 1 s before a gap of more than 10 s. altitude_m is as recorded; altitude_source is
-- null where no stage looked at altitudes.
with stretch as materialized (
    select * from busiest_stretches
),

recorded as (
    select
        stretch.*,
        samples.n,
        samples.t_s,
        samples.altitude_m
    from recorded_samples as samples
    inner join stretch
        on
            samples.ride = stretch.ride
            and samples.t_s >= stretch.from_s
            and samples.t_s < stretch.to_s
),

-- Of these rides alone: all others would be kept in memory for the join.
engaged as (
    select * from engaged_samples where ride in (select stretch.ride from stretch)
),

seconds as (
    select distinct on (recorded.vehicle, floor(recorded.t_s))
        recorded.*,
        engaged.development_m,
        engaged.gear,
        engaged.gear_probability,
        case
            when engaged.gear is null and coalesce(engaged.coupled, true) then 'no gear'
            when engaged.gear_probability < 0.8 or engaged.coupled is null then 'in doubt'
            when engaged.coupled then 'driving'
            else 'without drive'
        end as state
    from recorded
    left join engaged
        on recorded.ride = engaged.ride and recorded.n = engaged.n
    order by recorded.vehicle, floor(recorded.t_s), recorded.t_s
),

levels as (
    select
        vehicle,
        gear,
        development_m
    from measured_gears
    union all
    select
        vehicles.vehicle,
        published_gears.gear,
        published_gears.ratio
        * coalesce(vehicles.effective_rollout_m, vehicles.stated_rollout_m) as development_m
    from vehicles
    inner join published_gears on vehicles.drivetrain = published_gears.drivetrain
    anti join measured_gears
        on
            vehicles.vehicle = measured_gears.vehicle
            and published_gears.gear = measured_gears.gear
),

followed as (
    select
        *,
        lead(t_s) over (partition by vehicle order by t_s) - t_s as to_next_s,
        gear is distinct from lag(gear) over (partition by vehicle order by t_s) as is_new
    from seconds
)

select
    followed.vehicle,
    rides.path,
    followed.from_s,
    followed.to_s,
    followed.shifts,
    followed.t_s,
    case when followed.to_next_s <= 10 then followed.to_next_s else 1 end as seconds,
    followed.development_m,
    followed.altitude_m,
    ride_profiles.altitude_source,
    followed.gear,
    followed.gear_probability,
    followed.state,
    levels.development_m as level_m,
    count(*) filter (where followed.is_new)
        over (partition by followed.vehicle order by followed.t_s) as hold
from followed
inner join rides on followed.ride = rides.ride
left join ride_profiles on followed.ride = ride_profiles.ride
left join levels on followed.vehicle = levels.vehicle and followed.gear = levels.gear
order by followed.vehicle, followed.t_s
