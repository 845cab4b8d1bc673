-- developments: one row a vehicle and bin of development, 0.5 % wide, empty bins included.
--
-- A sample stands for the time to the next one; the last one, and one before a gap of more than
-- 10 s, stand for 1 s. That is how time in gear is counted too.
-- driving_s is time with the crank driving the wheel, other_s the rest that has a development:
-- soft pedalling, coasting with a held cadence, shifts, and whatever nothing could be said of.
-- A hundredth of the driving time lies outside these bins; low_m and high_m are its ends.
with timed as (
    select
        rides.vehicle,
        samples.development_m,
        coalesce(samples.coupled, false) as driving,
        lead(samples.t_s) over (partition by samples.ride order by samples.t_s)
        - samples.t_s as to_next_s
    from samples
    inner join rides on samples.ride = rides.ride
),

seen as (
    select
        *,
        case when to_next_s <= 10 then to_next_s else 1 end as seconds,
        cast(floor(ln(development_m) / 0.005) as integer) as bin
    from timed
    where development_m > 0 and isfinite(development_m)
),

ends as (
    select
        vehicle,
        coalesce(
            quantile_cont(development_m, 0.005) filter (where driving),
            quantile_cont(development_m, 0.05)
        ) as low_m,
        coalesce(
            quantile_cont(development_m, 0.995) filter (where driving),
            quantile_cont(development_m, 0.95)
        ) as high_m
    from seen
    group by vehicle
),

bins as (
    select
        vehicle,
        low_m,
        high_m,
        unnest(range(
            cast(floor(ln(low_m) / 0.005) as integer) - 10,
            cast(floor(ln(high_m) / 0.005) as integer) + 11
        )) as bin
    from ends
)

select
    bins.vehicle,
    exp(bins.bin * 0.005) as from_m,
    exp((bins.bin + 1) * 0.005) as to_m,
    coalesce(sum(seen.seconds) filter (where seen.driving), 0) as driving_s,
    coalesce(sum(seen.seconds) filter (where not seen.driving), 0) as other_s,
    bins.low_m,
    bins.high_m
from bins
left join seen on bins.vehicle = seen.vehicle and bins.bin = seen.bin
group by bins.vehicle, bins.bin, bins.low_m, bins.high_m
order by bins.vehicle, bins.bin
