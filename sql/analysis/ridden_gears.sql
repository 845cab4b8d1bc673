-- ridden_gears: one row a ride, hour of it, gear or development band, coupling, grade and speed band.
--
-- All that is asked of the use of gears is a sum over these rows: samples are read once, here.
with told as (
    select
        samples.ride,
        samples.gear,
        samples.coupled,
        moments.seconds,
        moments.metres,
        moments.climb_m,
        cast(floor(samples.t_s / 3600) as integer) + 1 as hour,
        case
            when samples.gear is null and samples.coupled
            then floor(samples.development_m * 2) / 2
        end as development_from_m,
        -- The middle band is level: -1 to +1 %. Beyond 11 % there is little road.
        greatest(-6, least(6, round(moments.grade / 0.02))) * 0.02 - 0.01 as grade_from,
        floor(moments.metres / moments.seconds) as speed_from_mps,
        samples.power_w * moments.seconds as work_j,
        case when samples.power_w is not null then moments.seconds else 0 end as powered_s
    from samples
    inner join moments on samples.ride = moments.ride and samples.n = moments.n
    where moments.seconds > 0
)

select
    ride,
    hour,
    gear,
    development_from_m,
    coupled,
    round(grade_from, 2) as grade_from,
    speed_from_mps,
    sum(seconds) as seconds,
    sum(metres) as metres,
    sum(climb_m) as climb_m,
    sum(work_j) as work_j,
    sum(powered_s) as powered_s
from told
group by all
order by all
