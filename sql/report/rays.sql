-- rays: one row a vehicle and cell of cadence (2 rpm) and speed (0.25 m/s) that was ridden.
--
-- The speed is that of the channel in use, lag taken out: development times cadence. driving_s is
-- time with the crank driving the wheel, other_s the rest.
-- Cells are kept, the longest ridden first, until they hold 99 % of a vehicle's time; shown_share
-- says what share of it they hold. The rest is single seconds far out, which would stretch scales.
with cells as (
    select
        vehicle,
        cast(floor(cadence_rpm / 2) as integer) as turning,
        cast(floor(development_m * cadence_rpm / 60 / 0.25) as integer) as rolling,
        sum(seconds) filter (where driving) as driving_s,
        sum(seconds) as seconds
    from all_pedalled
    group by vehicle, turning, rolling
),

ranked as (
    select
        *,
        sum(seconds) over (
            partition by vehicle order by seconds desc, turning, rolling
        ) - seconds as before_s,
        sum(seconds) over (partition by vehicle) as total_s
    from cells
),

kept as (
    select * from ranked where before_s < 0.99 * total_s
)

select
    vehicle,
    cast(2 * turning as double) as from_rpm,
    cast(2 * turning + 2 as double) as to_rpm,
    cast(rolling as double) / 4 as from_mps,
    cast(rolling + 1 as double) / 4 as to_mps,
    coalesce(driving_s, 0) as driving_s,
    seconds - coalesce(driving_s, 0) as other_s,
    sum(seconds) over (partition by vehicle) / total_s as shown_share
from kept
order by vehicle, turning, rolling
