-- developments: one row a vehicle and bin of development, 0.5 % wide, empty bins included.
--
-- driving_s is time with the crank driving the wheel, other_s the rest that has a development:
-- soft pedalling, coasting with a held cadence, shifts, and whatever nothing could be said of.
-- The bins reach a little beyond low_m and high_m. Between these lie all measured gears and the
-- driving time but for its lowest 1 % and its highest 2 % (freewheeling taken for driving reads
-- high); where no gear was measured, but for the outermost 0.5 %. driving_total_s is all of it.
with seen as (
    select
        vehicle,
        development_m,
        driving,
        seconds,
        cast(floor(ln(development_m) / 0.005) as integer) as bin
    from all_pedalled
),

ladders as (
    select
        vehicle,
        min(development_m) as lowest_m,
        max(development_m) as highest_m
    from measured_gears
    group by vehicle
),

spread as (
    select
        vehicle,
        coalesce(
            quantile_cont(development_m, [0.005, 0.01, 0.98, 0.995]) filter (where driving),
            quantile_cont(development_m, [0.05, 0.05, 0.95, 0.95])
        ) as ends_m,
        coalesce(sum(seconds) filter (where driving), 0) as driving_total_s
    from seen
    group by vehicle
),

ends as (
    select
        spread.vehicle,
        spread.driving_total_s,
        if(lowest_m is null, ends_m[1], least(ends_m[2], lowest_m)) as low_m,
        if(highest_m is null, ends_m[4], greatest(ends_m[3], highest_m)) as high_m
    from spread
    left join ladders on spread.vehicle = ladders.vehicle
),

bins as (
    select
        vehicle,
        driving_total_s,
        low_m,
        high_m,
        unnest(range(
            cast(floor(ln(low_m) / 0.005) as integer) - 10,
            cast(floor(ln(high_m) / 0.005) as integer) + 11
        )) as bin
    from ends
),

filled as (
    select
        vehicle,
        bin,
        sum(seconds) filter (where driving) as driving_s,
        sum(seconds) filter (where not driving) as other_s
    from seen
    group by vehicle, bin
)

select
    bins.vehicle,
    exp(bins.bin * 0.005) as from_m,
    exp((bins.bin + 1) * 0.005) as to_m,
    coalesce(filled.driving_s, 0) as driving_s,
    coalesce(filled.other_s, 0) as other_s,
    bins.low_m,
    bins.high_m,
    bins.driving_total_s
from bins
left join filled on bins.vehicle = filled.vehicle and bins.bin = filled.bin
order by bins.vehicle, bins.bin
