-- combinations: one row a vehicle and setting of a drivetrain with more than one thing to shift.
--
-- repeats says that a lower combination is the same gear; beside is the setting in front with which
-- that one is reached; ridden whether the gear was measured. Drivetrains of more than 400
-- combinations are left out: their table is on paper.
with numbered as (
    select
        *,
        row_number() over (partition by drivetrain, gear order by ratio, combination) as place,
        first(combination) over (
            partition by drivetrain, gear order by ratio, combination
        ) as lowest,
        count(*) over (partition by drivetrain) as combinations
    from published_combinations
),

compound as (
    select drivetrain
    from numbered
    group by drivetrain
    having count(distinct front) > 1 and count(*) > count(distinct front) and count(*) <= 400
)

select
    vehicles.vehicle,
    numbered.combination,
    numbered.front,
    numbered.gear,
    numbered.ratio,
    numbered.ratio * coalesce(vehicles.effective_rollout_m, vehicles.stated_rollout_m)
        as development_m,
    numbered.place > 1 as repeats,
    if(numbered.place > 1, numbered.lowest, null) as beside,
    measured_gears.gear is not null as ridden
from numbered
inner join compound on numbered.drivetrain = compound.drivetrain
inner join vehicles on numbered.drivetrain = vehicles.drivetrain
left join measured_gears
    on vehicles.vehicle = measured_gears.vehicle and numbered.gear = measured_gears.gear
order by vehicles.vehicle, numbered.ratio, numbered.combination
