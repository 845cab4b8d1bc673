-- rays: one row a vehicle and cell of cadence (2 rpm) and speed (0.25 m/s) that was ridden.
--
-- The speed is that of the channel in use, lag taken out: development times cadence. A sample
-- stands for the time to the next one; the last one, and one before a gap of more than 10 s, stand
-- for 1 s. driving_s is time with the crank driving the wheel, other_s the rest.
-- Cells are kept, the longest ridden first, until they hold 99 % of a vehicle's time; shown_share
-- says what share of it they hold. The rest is single seconds far out, which would stretch scales.
with timed as (
    select
        rides.vehicle,
        cast(floor(samples.cadence_rpm / 2) as integer) as turning,
        cast(floor(samples.development_m * samples.cadence_rpm / 60 / 0.25) as integer) as rolling,
        coalesce(samples.coupled, false) as driving,
        lead(samples.t_s) over (partition by samples.ride order by samples.t_s)
        - samples.t_s as to_next_s,
        samples.development_m
    from samples
    inner join rides on samples.ride = rides.ride
),

cells as (
    select
        vehicle,
        turning,
        rolling,
        sum(if(to_next_s <= 10, to_next_s, 1)) filter (where driving) as driving_s,
        sum(if(to_next_s <= 10, to_next_s, 1)) as seconds
    from timed
    where vehicle is not null and development_m > 0 and isfinite(development_m)
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
