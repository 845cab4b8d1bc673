-- ridden_gears: one row a ride, hour of it, gear or development band, coupling, grade and speed band.
--
-- All that is asked of the use of gears is a sum over these rows: samples are read once, here.
with told as (
    select
        number,
        gear,
        coupled,
        seconds,
        metres,
        climb_m,
        cast(floor(t_s / 3600) as integer) + 1 as hour,
        case
            when gear is null and coupled then floor(development_m * 2) / 2
        end as development_from_m,
        -- The middle band is level: -1 to +1 %. Beyond 11 % there is little road.
        greatest(-6, least(6, round(grade / 0.02))) as grade_band,
        floor(metres / seconds) as speed_from_mps,
        power_w * seconds as work_j,
        case when power_w is not null then seconds else 0 end as powered_s
    from ridden_samples
    where seconds > 0 and number >= (select min(number) from numbered_rides)
),

summed as (
    select
        number,
        hour,
        gear,
        development_from_m,
        coupled,
        grade_band,
        speed_from_mps,
        sum(seconds) as seconds,
        sum(metres) as metres,
        sum(climb_m) as climb_m,
        sum(work_j) as work_j,
        sum(powered_s) as powered_s
    from told
    group by all
)

select
    numbered_rides.ride,
    hour,
    gear,
    development_from_m,
    coupled,
    (2 * grade_band - 1) / 100 as grade_from,
    speed_from_mps,
    seconds,
    metres,
    climb_m,
    work_j,
    powered_s
from summed
inner join numbered_rides using (number)
order by number, hour, gear, development_from_m, coupled, grade_band, speed_from_mps
