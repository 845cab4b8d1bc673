-- ladder: one row a vehicle and gear that is published or was measured, lowest gear first.
--
-- step is measured against the gear below where that was measured too. Its half width takes the
-- two ratios as independently measured: what all gears share cancels in their quotient.
-- Published developments stand on the rollout that the rides show, else on the stated one.
with published as (
    select
        vehicles.vehicle,
        published_gears.gear,
        published_gears.label,
        published_gears.ratio as published_ratio,
        published_gears.step as published_step,
        published_gears.ratio_low as published_ratio_low,
        published_gears.ratio_high as published_ratio_high,
        published_gears.ratio
        * coalesce(vehicles.effective_rollout_m, vehicles.stated_rollout_m)
            as published_development_m
    from vehicles
    inner join published_gears on vehicles.drivetrain = published_gears.drivetrain
),

relative as (
    select
        *,
        coalesce(ratio, development_m) as height,
        coalesce(
            (ratio_high - ratio_low) / (2 * ratio),
            (development_high_m - development_low_m) / (2 * development_m)
        ) as half_width
    from measured_gears
),

stepped as (
    select
        *,
        case
            when lag(gear) over upwards = gear - 1 then height / lag(height) over upwards - 1
        end as step,
        sqrt(half_width * half_width + pow(lag(half_width) over upwards, 2)) as step_error
    from relative
    window upwards as (partition by vehicle order by gear)
)

select
    coalesce(published.vehicle, stepped.vehicle) as vehicle,
    coalesce(published.gear, stepped.gear) as gear,
    coalesce(published.label, stepped.label) as label,
    published.published_ratio,
    published.published_step,
    published.published_development_m,
    stepped.ratio,
    stepped.ratio_low,
    stepped.ratio_high,
    stepped.deviation,
    stepped.ratio_low / published.published_ratio - 1 as deviation_low,
    stepped.ratio_high / published.published_ratio - 1 as deviation_high,
    published.published_ratio_low / published.published_ratio - 1 as allowed_low,
    published.published_ratio_high / published.published_ratio - 1 as allowed_high,
    stepped.development_m,
    stepped.development_low_m,
    stepped.development_high_m,
    stepped.step,
    stepped.step_error * (1 + stepped.step) as step_half_width,
    stepped.seconds,
    stepped.distance_m,
    stepped.rides
from published
full outer join stepped
    on published.vehicle = stepped.vehicle and published.gear = stepped.gear
order by vehicle, gear
