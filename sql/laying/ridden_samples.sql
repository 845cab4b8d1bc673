-- ridden_samples: one row a sample of the rides with the next $at_once numbers, in order.
--
-- Numbers take the place of names before anything is joined: that costs a third less.
with next_rides as (
    select ride, number
    from numbered_rides
    where number > $laid and number <= $laid + $at_once
),

recorded as (
    select number, recorded_samples.* from recorded_samples inner join next_rides using (ride)
),

engaged as (
    select number, engaged_samples.* from engaged_samples inner join next_rides using (ride)
),

standing as (
    select number, moments.* from moments inner join next_rides using (ride)
)

select
    recorded.number,
    recorded.n,
    recorded.t_s,
    recorded.speed_mps,
    recorded.speed_mps is null and recorded.distance_m is null as no_speed,
    recorded.cadence_rpm,
    recorded.power_w,
    engaged.development_m,
    engaged.gear,
    engaged.coupled,
    engaged.gear_probability,
    standing.seconds,
    standing.metres,
    standing.grade,
    standing.climb_m
from recorded
left join engaged on recorded.number = engaged.number and recorded.n = engaged.n
left join standing on recorded.number = standing.number and recorded.n = standing.n
order by recorded.number, recorded.n
