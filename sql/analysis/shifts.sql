-- shifts: one row a sweep, that is, gear changes in one direction less than 3 s apart.
--
-- What can be seen of a shift is its two ends: the last coupled sample in the old gear and the
-- first coupled sample in the new one. The span between them is the shift; t_s is its middle,
-- speed_mps and power_w are means over it, ends included.
-- A span that holds more than 3 s of decoupled riding is a shift made while coasting: a shift
-- under load decouples the crank too, but is over sooner.
-- Across more than 10 s without a named gear (recording gap, standstill, nothing to tell) there is
-- no shift: nobody knows how many there were.
--
-- Samples are windowed once. What is left after that are the few at which something happens, and
-- means around these are a join away.
with named as (
    select
        ride,
        n,
        t_s,
        gear,
        coupled,
        lag(t_s) over in_ride as named_before,
        lag(case when coupled then t_s end ignore nulls) over in_ride as left_at,
        lag(case when coupled then gear end ignore nulls) over in_ride as from_gear,
        lag(case when coupled then n end ignore nulls) over in_ride as left_n
    from samples
    where gear is not null
    window in_ride as (partition by ride order by t_s)
),

notable as materialized (
    select *
    from named
    where t_s - named_before > 10 or (coupled and gear <> from_gear)
),

gaps as (
    select ride, named_before as begins_at, t_s as ends_at
    from notable
    where t_s - named_before > 10
),

changes as (
    select
        ride,
        left_n,
        n as reached_n,
        left_at,
        t_s as reached_at,
        from_gear,
        gear as to_gear,
        named_before > left_at as has_decoupled,
        (left_at + t_s) / 2 as changed_at,
        sign(gear - from_gear) as direction
    from notable
    where coupled and gear <> from_gear
        and not exists (
            select 1
            from gaps
            where gaps.ride = notable.ride
                and gaps.begins_at >= notable.left_at
                and gaps.ends_at <= notable.t_s
        )
),

-- Cadences are means over three seconds, but not beyond the change before or after.
marked as (
    select
        *,
        greatest(left_at - 3, coalesce(lag(reached_at) over in_ride, left_at - 3)) as before_from,
        least(reached_at + 3, coalesce(lead(left_at) over in_ride, reached_at + 3)) as after_until,
        direction is distinct from lag(direction) over in_ride
        or changed_at - lag(changed_at) over in_ride >= 3
        or left_at - lag(reached_at) over in_ride > 10 as starts_sweep
    from changes
    window in_ride as (partition by ride order by reached_at)
),

in_sweeps as (
    select
        *,
        count(*) filter (where starts_sweep) over (
            partition by ride order by reached_at rows unbounded preceding
        ) as sweep
    from marked
),

sweeps as materialized (
    select
        ride,
        sweep,
        min(left_at) as left_at,
        max(reached_at) as reached_at,
        min(left_n) as left_n,
        max(reached_n) as reached_n,
        first(from_gear order by reached_at) as from_gear,
        last(to_gear order by reached_at) as to_gear,
        first(before_from order by reached_at) as before_from,
        last(after_until order by reached_at) as after_until,
        bool_or(has_decoupled and reached_at - left_at > 3) as while_decoupled
    from in_sweeps
    group by ride, sweep
),

-- Joined by sixteen seconds of the ride: a bare range of times would compare each with each.
around as (
    select
        spans.ride,
        spans.sweep,
        avg(samples.speed_mps)
            filter (where samples.t_s between spans.left_at and spans.reached_at) as speed_mps,
        avg(samples.power_w)
            filter (where samples.t_s between spans.left_at and spans.reached_at) as power_w,
        avg(samples.cadence_rpm) filter (
            where samples.t_s between spans.before_from and spans.left_at
                and samples.coupled and samples.gear is not null
        ) as cadence_before_rpm,
        avg(samples.cadence_rpm) filter (
            where samples.t_s between spans.reached_at and spans.after_until
                and samples.coupled and samples.gear is not null
        ) as cadence_after_rpm
    from (
        select
            *,
            unnest(
                range(
                    cast(floor(before_from / 16) as bigint),
                    cast(floor(after_until / 16) as bigint) + 1
                )
            ) as bucket
        from sweeps
    ) as spans
    inner join samples
        on spans.ride = samples.ride and spans.bucket = cast(floor(samples.t_s / 16) as bigint)
    group by spans.ride, spans.sweep
),

grades as (
    select ends.ride, ends.sweep, avg(moments.grade) as grade
    from (select ride, sweep, unnest([left_n, reached_n]) as n from sweeps) as ends
    inner join moments on ends.ride = moments.ride and ends.n = moments.n
    group by ends.ride, ends.sweep
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
    (sweeps.left_at + sweeps.reached_at) / 2 as t_s,
    sweeps.from_gear,
    sweeps.to_gear,
    reached.ratio / departed.ratio - 1 as step,
    around.speed_mps,
    around.cadence_before_rpm,
    around.cadence_after_rpm,
    around.power_w,
    grades.grade,
    sweeps.while_decoupled
from sweeps
left join around on sweeps.ride = around.ride and sweeps.sweep = around.sweep
left join grades on sweeps.ride = grades.ride and sweeps.sweep = grades.sweep
left join rides on sweeps.ride = rides.ride
left join ratios as departed
    on rides.vehicle = departed.vehicle and sweeps.from_gear = departed.gear
left join ratios as reached
    on rides.vehicle = reached.vehicle and sweeps.to_gear = reached.gear
order by sweeps.ride, t_s
