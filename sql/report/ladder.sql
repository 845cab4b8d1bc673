-- ladder: one row a vehicle and gear that is published or was measured, lowest gear first.
--
-- step is measured against the gear below where that was measured too.
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

measured as (
    select
        measured_gears.*,
        measured_steps.step,
        (measured_steps.step_high - measured_steps.step_low) / 2 as step_half_width
    from measured_gears
    left join measured_steps using (vehicle, gear)
)

select
    coalesce(published.vehicle, measured.vehicle) as vehicle,
    coalesce(published.gear, measured.gear) as gear,
    coalesce(published.label, measured.label) as label,
    published.published_ratio,
    published.published_step,
    published.published_development_m,
    measured.ratio,
    measured.ratio_low,
    measured.ratio_high,
    measured.deviation,
    measured.ratio_low / published.published_ratio - 1 as deviation_low,
    measured.ratio_high / published.published_ratio - 1 as deviation_high,
    published.published_ratio_low / published.published_ratio - 1 as allowed_low,
    published.published_ratio_high / published.published_ratio - 1 as allowed_high,
    measured.development_m,
    measured.development_low_m,
    measured.development_high_m,
    measured.step,
    measured.step_half_width,
    measured.seconds,
    measured.distance_m,
    measured.rides
from published
full outer join measured
    on published.vehicle = measured.vehicle and published.gear = measured.gear
order by vehicle, gear
