-- residuals: one row a vehicle and measured gear, how its samples lie about it.
--
-- Of the samples with the crank driving the wheel: ln(development) less that of the gear, by
-- quantile. step_below and step_above are the distances to the measured gears beside it, likewise.
with distances as (
    select
        all_pedalled.vehicle,
        all_pedalled.gear,
        ln(all_pedalled.development_m / measured_gears.development_m) as residual
    from all_pedalled
    inner join measured_gears
        on all_pedalled.vehicle = measured_gears.vehicle and all_pedalled.gear = measured_gears.gear
    where all_pedalled.driving
),

spread as (
    select
        vehicle,
        gear,
        count(*) as samples,
        quantile_cont(residual, [0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99]) as spots
    from distances
    group by vehicle, gear
)

select
    spread.vehicle,
    spread.gear,
    spread.samples,
    spread.spots[1] as q01,
    spread.spots[2] as q05,
    spread.spots[3] as q25,
    spread.spots[4] as q50,
    spread.spots[5] as q75,
    spread.spots[6] as q95,
    spread.spots[7] as q99,
    ln(measured_gears.development_m / lag(measured_gears.development_m) over upwards) as step_below,
    ln(lead(measured_gears.development_m) over upwards / measured_gears.development_m) as step_above
from spread
inner join measured_gears
    on spread.vehicle = measured_gears.vehicle and spread.gear = measured_gears.gear
window upwards as (partition by spread.vehicle order by measured_gears.development_m)
order by spread.vehicle, spread.gear
