-- sensor_health: one row a ride of a vehicle, what its sensors left out or told wrongly.
--
-- Whatever a rider does, a freewheel makes developments read too high, never too low: time spent
-- well below the lowest gear is time that the cadence was counted twice, or turns of the wheel were
-- missed. Thresholds are of our own: worth a look from 5 % of the time, failing from 15 %.
--
-- Windows without order, as in shifts: ridden_samples has its rows in order of ride and time.
with told as (
    select
        number,
        n,
        t_s,
        cadence_rpm,
        seconds,
        metres / nullif(seconds, 0) as speed_mps,
        no_speed,
        development_m,
        lag(number) over () = number as goes_on,
        t_s - lag(t_s) over () as since_s,
        lag(cadence_rpm) over () as last_rpm
    from ridden_samples
    where number >= (select min(number) from numbered_rides)
),

lowest as (
    select vehicle, min(development_m) as lowest_m from measured_gears group by vehicle
),

silences as (
    select number, n, t_s, since_s from told where goes_on and since_s > 10
),

-- The timer was off between two records where a pause lies between them.
paused as (
    select silences.number, silences.n
    from silences
    inner join numbered_rides using (number)
    inner join pauses
        on numbered_rides.ride = pauses.ride
        and pauses.start_s < silences.t_s
        and pauses.end_s > silences.t_s - silences.since_s
),

silent as (
    select number, max(since_s) as silence_s
    from (
        select number, n, since_s
        from silences
        anti join paused using (number, n)
    )
    group by number
),

valued as (
    select
        number,
        seconds,
        cadence_rpm,
        speed_mps,
        count(*) filter (where not goes_on or cadence_rpm is distinct from last_rpm) over (
            rows unbounded preceding
        ) as value
    from told
),

held as (
    select number, sum(seconds) as held_s
    from (
        select
            number,
            sum(seconds) as seconds
        from valued
        where cadence_rpm > 0
        group by number, value
        having sum(seconds) >= 60 and max(speed_mps) > 1.1 * min(speed_mps)
    )
    group by number
),

summed as (
    select
        told.number,
        any_value(recorded_rides.ride) as ride,
        any_value(recorded_rides.vehicle) as vehicle,
        coalesce(sum(told.seconds) filter (where told.speed_mps >= 1), 0) as moving_s,
        sum(told.seconds) filter (where told.speed_mps >= 1 and told.cadence_rpm is null)
            as no_cadence_s,
        sum(told.seconds) filter (where told.cadence_rpm > 0) as turning_s,
        sum(told.seconds) filter (where told.cadence_rpm > 0 and told.no_speed) as no_speed_s,
        count(*) filter (
            where told.cadence_rpm is null and told.goes_on and told.last_rpm is not null
                and told.speed_mps >= 1
        ) as dropouts,
        max(told.since_s) filter (where told.goes_on and told.since_s <= 10) as least_silence_s,
        sum(told.seconds) filter (where told.cadence_rpm >= 30 and told.development_m > 0)
            as pedalled_s,
        sum(told.seconds) filter (
            where told.cadence_rpm >= 30 and told.development_m < 0.7 * lowest.lowest_m
        ) as stray_s,
        any_value(lowest.lowest_m) as lowest_m
    from told
    inner join numbered_rides using (number)
    inner join recorded_rides using (ride)
    left join lowest using (vehicle)
    where recorded_rides.vehicle is not null
    group by told.number
),

counted as (
    select
        summed.* exclude (least_silence_s),
        greatest(silent.silence_s, summed.least_silence_s) as silence_s,
        held.held_s
    from summed
    left join silent using (number)
    left join held using (number)
),

shares as (
    select
        counted.ride,
        counted.vehicle,
        counted.moving_s,
        greatest(counted.moving_s, coalesce(counted.turning_s, 0)) as told_s,
        coalesce(counted.no_cadence_s, 0) / nullif(counted.moving_s, 0) as no_cadence_share,
        coalesce(counted.no_speed_s, 0) / nullif(counted.turning_s, 0) as no_speed_share,
        cast(counted.dropouts as integer) as cadence_dropouts,
        coalesce(counted.silence_s, 0) as longest_silence_s,
        coalesce(counted.held_s, 0) as held_cadence_s,
        case
            when counted.lowest_m is not null
            then coalesce(counted.stray_s, 0) / nullif(counted.pedalled_s, 0)
        end as stray_share
    from counted
),

words as (
    select
        *,
        nullif(concat_ws(
            '; ',
            case
                when no_cadence_share >= 0.05
                then format('no cadence for {:.0f} % of the time', 100 * no_cadence_share)
            end,
            case
                when no_speed_share >= 0.05
                then format('no speed for {:.0f} % of the pedalling', 100 * no_speed_share)
            end,
            case
                when stray_share >= 0.05
                then format(
                    '{:.0f} % of the pedalling below the lowest gear: cadence counted twice, '
                    || 'or turns of the wheel missed', 100 * stray_share
                )
            end,
            case
                when held_cadence_s > 0 and held_cadence_s >= 0.05 * told_s
                then format('the same cadence repeated for {:.0f} s', held_cadence_s)
            end,
            case
                when longest_silence_s >= 60
                then format('nothing recorded for {:.0f} s', longest_silence_s)
            end
        ), '') as finding,
        greatest(
            no_cadence_share, no_speed_share, stray_share, held_cadence_s / nullif(told_s, 0)
        ) as worst_share
    from shares
)

select
    * exclude (finding, worst_share, told_s),
    case
        when told_s < 300 then 'too short'
        when worst_share >= 0.15 then 'failing'
        when finding is not null then 'look'
        else 'sound'
    end as state,
    case when told_s >= 300 then finding end as finding
from words
order by vehicle, ride
