-- shifts: one row a sweep, that is, gear changes in one direction less than 3 s apart.
--
-- What can be seen of a shift is its two ends: the last coupled sample in the old gear and the
-- first coupled sample in the new one. The span between them is the shift; t_s is its middle,
-- speed_mps and power_w are means over it, ends included.
-- A span that holds more than 3 s of decoupled riding is a shift made while coasting: a shift
-- under load decouples the crank too, but is over sooner.
-- Across more than 10 s without a named gear (recording gap, standstill, nothing to tell) there is
-- no shift: nobody knows how many there were.
with observed as (
    select
        ride,
        t_s,
        gear,
        coupled,
        cadence_rpm,
        speed_mps,
        power_w,
        moments.grade as slope,
        -- Running sums, so that the mean over any span is one subtraction away.
        sum(speed_mps) over until_it as speed_sum,
        count(speed_mps) over until_it as speed_count,
        sum(power_w) over until_it as power_sum,
        count(power_w) over until_it as power_count
    from samples
    left join moments using (ride, n)
    window until_it as (partition by ride order by t_s rows unbounded preceding)
),

named as (
    select
        *,
        row_number() over in_ride as place,
        t_s - lag(t_s) over in_ride > 10 as after_gap
    from observed
    where gear is not null
    window in_ride as (partition by ride order by t_s)
),

stretched as (
    select
        *,
        count(*) filter (where after_gap) over (
            partition by ride order by t_s rows unbounded preceding
        ) as stretch
    from named
),

pedalled as (
    select
        *,
        lag(gear) over in_stretch is distinct from gear as starts_run
    from stretched
    where coupled
    window in_stretch as (partition by ride, stretch order by t_s)
),

in_runs as (
    select
        *,
        count(*) filter (where starts_run) over (
            partition by ride order by t_s rows unbounded preceding
        ) as run
    from pedalled
),

with_cadence as (
    select
        *,
        avg(cadence_rpm) over (
            partition by ride, run order by t_s range between 3 preceding and current row
        ) as cadence_until,
        avg(cadence_rpm) over (
            partition by ride, run order by t_s range between current row and 3 following
        ) as cadence_from
    from in_runs
),

paired as (
    select
        ride,
        stretch,
        lag(t_s) over in_stretch as left_at,
        t_s as reached_at,
        lag(gear) over in_stretch as from_gear,
        gear as to_gear,
        place - lag(place) over in_stretch > 1 as has_decoupled,
        lag(cadence_until) over in_stretch as cadence_before_rpm,
        cadence_from as cadence_after_rpm,
        -- The sample before is part of the span.
        lag(coalesce(speed_sum, 0) - coalesce(speed_mps, 0)) over in_stretch as speed_sum_before,
        lag(speed_count - (speed_mps is not null)::int) over in_stretch as speed_count_before,
        speed_sum,
        speed_count,
        lag(coalesce(power_sum, 0) - coalesce(power_w, 0)) over in_stretch as power_sum_before,
        lag(power_count - (power_w is not null)::int) over in_stretch as power_count_before,
        power_sum,
        power_count,
        lag(slope) over in_stretch as slope_before,
        slope as slope_after
    from with_cadence
    window in_stretch as (partition by ride, stretch order by t_s)
),

changes as (
    select
        *,
        (left_at + reached_at) / 2 as changed_at,
        sign(to_gear - from_gear) as direction
    from paired
    where from_gear <> to_gear
),

marked as (
    select
        *,
        direction is distinct from lag(direction) over in_stretch
        or changed_at - lag(changed_at) over in_stretch >= 3 as starts_sweep
    from changes
    window in_stretch as (partition by ride, stretch order by reached_at)
),

in_sweeps as (
    select
        *,
        count(*) filter (where starts_sweep) over (
            partition by ride order by reached_at rows unbounded preceding
        ) as sweep
    from marked
),

sweeps as (
    select
        ride,
        (min(left_at) + max(reached_at)) / 2 as t_s,
        first(from_gear order by reached_at) as from_gear,
        last(to_gear order by reached_at) as to_gear,
        (last(speed_sum order by reached_at) - first(speed_sum_before order by reached_at))
        / nullif(max(speed_count) - min(speed_count_before), 0) as speed_mps,
        first(cadence_before_rpm order by reached_at) as cadence_before_rpm,
        last(cadence_after_rpm order by reached_at) as cadence_after_rpm,
        (last(power_sum order by reached_at) - first(power_sum_before order by reached_at))
        / nullif(max(power_count) - min(power_count_before), 0) as power_w,
        (
            first(slope_before order by reached_at) + last(slope_after order by reached_at)
        ) / 2 as grade,
        bool_or(has_decoupled and reached_at - left_at > 3) as while_decoupled
    from in_sweeps
    group by ride, sweep
),

-- A gear ridden too briefly to be measured keeps its published ratio: both are on one scale.
-- Without drivetrain and rollout there are no ratios, and developments serve as well.
ratios as (
    select
        vehicle,
        gear,
        coalesce(measured_gears.ratio, published_gears.ratio, measured_gears.development_m) as ratio
    from vehicles
    inner join published_gears using (drivetrain)
    full join measured_gears using (vehicle, gear)
)

select
    sweeps.ride,
    sweeps.t_s,
    sweeps.from_gear,
    sweeps.to_gear,
    reached.ratio / departed.ratio - 1 as step,
    sweeps.speed_mps,
    sweeps.cadence_before_rpm,
    sweeps.cadence_after_rpm,
    sweeps.power_w,
    sweeps.grade,
    sweeps.while_decoupled
from sweeps
left join rides on sweeps.ride = rides.ride
left join ratios as departed
    on rides.vehicle = departed.vehicle and sweeps.from_gear = departed.gear
left join ratios as reached
    on rides.vehicle = reached.vehicle and sweeps.to_gear = reached.gear
order by sweeps.ride, sweeps.t_s
