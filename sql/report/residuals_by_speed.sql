-- residuals_by_speed: one row a vehicle and half metre a second, over all its gears.
--
-- Of the samples with the crank driving the wheel: ln(development) less that of the gear, by
-- quantile. The speed is that of the channel in use, lag taken out: development times cadence.
-- Speeds with fewer than 20 samples are left out, and those above 40 m/s.
with distances as (
    select
        all_pedalled.vehicle,
        all_pedalled.development_m * all_pedalled.cadence_rpm / 60 as speed_mps,
        ln(all_pedalled.development_m / measured_gears.development_m) as residual
    from all_pedalled
    inner join measured_gears
        on all_pedalled.vehicle = measured_gears.vehicle and all_pedalled.gear = measured_gears.gear
    where all_pedalled.driving
),

spread as (
    select
        vehicle,
        cast(floor(speed_mps / 0.5) as integer) as bin,
        count(*) as samples,
        quantile_cont(residual, [0.05, 0.25, 0.5, 0.75, 0.95]) as spots
    from distances
    where speed_mps < 40
    group by vehicle, bin
    having count(*) >= 20
)

select
    vehicle,
    cast(bin * 0.5 as double) as from_mps,
    cast((bin + 1) * 0.5 as double) as to_mps,
    samples,
    spots[1] as q05,
    spots[2] as q25,
    spots[3] as q50,
    spots[4] as q75,
    spots[5] as q95
from spread
order by vehicle, bin
