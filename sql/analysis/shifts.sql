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
-- ridden_samples has its rows in order of ride and time, and DuckDB keeps the order of what it
-- reads. A window without order then costs next to nothing, where sorting costs more than all
-- else; lag(number) tells where a ride begins.
with named as (
    select
        number,
        n,
        t_s,
        gear,
        coupled,
        lag(number) over () = number as goes_on,
        lag(t_s) over () as named_before
    from ridden_samples
    where gear is not null and number >= (select min(number) from numbered_rides)
),

numbered as (
    select
        *,
        count(*) filter (where goes_on and t_s - named_before > 10) over (
            rows unbounded preceding
        ) as gaps
    from named
),

driven as (
    select
        number,
        n as reached_n,
        t_s as reached_at,
        gear as to_gear,
        gaps,
        named_before,
        lag(number) over () as left_number,
        lag(n) over () as left_n,
        lag(t_s) over () as left_at,
        lag(gear) over () as from_gear,
        lag(gaps) over () as gaps_before
    from numbered
    where coupled
),

changes as materialized (
    select
        number,
        left_n,
        reached_n,
        left_at,
        reached_at,
        from_gear,
        to_gear,
        named_before > left_at as has_decoupled,
        (left_at + reached_at) / 2 as changed_at,
        sign(to_gear - from_gear) as direction
    from driven
    where number = left_number and to_gear <> from_gear and gaps = gaps_before
),

beside as (
    select
        *,
        lag(number) over () = number as follows,
        lag(reached_at) over () as last_reached_at,
        lag(changed_at) over () as last_changed_at,
        lag(direction) over () as last_direction,
        case when lead(number) over () = number then lead(left_at) over () end as next_left_at
    from changes
),

-- Cadences are means over three seconds, but not beyond the change before or after.
marked as (
    select
        *,
        case
            when follows then greatest(left_at - 3, last_reached_at) else left_at - 3
        end as before_from,
        least(reached_at + 3, next_left_at) as after_until,
        follows is not true
        or direction <> last_direction
        or changed_at - last_changed_at >= 3
        or left_at - last_reached_at > 10 as starts_sweep
    from beside
),

in_sweeps as (
    select
        *,
        count(*) filter (where starts_sweep) over (rows unbounded preceding) as sweep
    from marked
),

sweeps as materialized (
    select
        number,
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
    group by number, sweep
),

-- Joined by four seconds of the ride: a bare range of times would compare each with each.
-- favg, as the same ride shall give the same digits wherever it lies among others.
around as (
    select
        spans.number,
        spans.sweep,
        favg(samples.speed_mps)
            filter (where samples.t_s between spans.left_at and spans.reached_at) as speed_mps,
        favg(samples.power_w)
            filter (where samples.t_s between spans.left_at and spans.reached_at) as power_w,
        favg(samples.grade)
            filter (where samples.n in (spans.left_n, spans.reached_n)) as grade,
        favg(samples.cadence_rpm) filter (
            where samples.t_s between spans.before_from and spans.left_at
                and samples.coupled and samples.gear is not null
        ) as cadence_before_rpm,
        favg(samples.cadence_rpm) filter (
            where samples.t_s between spans.reached_at and spans.after_until
                and samples.coupled and samples.gear is not null
        ) as cadence_after_rpm
    from (
        select
            *,
            unnest(
                range(
                    cast(floor(before_from / 4) as bigint),
                    cast(floor(after_until / 4) as bigint) + 1
                )
            ) as bucket
        from sweeps
    ) as spans
    inner join ridden_samples as samples
        on spans.number = samples.number and spans.bucket = cast(floor(samples.t_s / 4) as bigint)
    group by spans.number, spans.sweep
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
    numbered_rides.ride,
    (sweeps.left_at + sweeps.reached_at) / 2 as t_s,
    sweeps.from_gear,
    sweeps.to_gear,
    reached.ratio / departed.ratio - 1 as step,
    around.speed_mps,
    around.cadence_before_rpm,
    around.cadence_after_rpm,
    around.power_w,
    around.grade,
    sweeps.while_decoupled
from sweeps
inner join numbered_rides on sweeps.number = numbered_rides.number
left join around on sweeps.number = around.number and sweeps.sweep = around.sweep
left join rides on numbered_rides.ride = rides.ride
left join ratios as departed
    on rides.vehicle = departed.vehicle and sweeps.from_gear = departed.gear
left join ratios as reached
    on rides.vehicle = reached.vehicle and sweeps.to_gear = reached.gear
order by numbered_rides.ride, t_s
