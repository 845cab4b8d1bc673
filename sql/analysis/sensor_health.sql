-- sensor_health: one row a ride of a vehicle, what its sensors left out or told wrongly.
--
-- Whatever a rider does, a freewheel makes developments read too high, never too low: time spent
-- well below the lowest gear is time that the cadence was counted twice, or turns of the wheel were
-- missed. Thresholds are of our own: worth a look from 5 % of the time, failing from 15 %.
with told as (
    select
        recorded_samples.ride,
        recorded_samples.n,
        recorded_samples.t_s,
        recorded_samples.cadence_rpm,
        moments.seconds,
        moments.metres / nullif(moments.seconds, 0) as speed_mps,
        recorded_samples.speed_mps is null and recorded_samples.distance_m is null as no_speed,
        engaged_samples.development_m,
        recorded_samples.t_s - lag(recorded_samples.t_s) over in_ride as silence_s,
        lag(recorded_samples.cadence_rpm) over in_ride as before_rpm
    from recorded_samples
    inner join moments
        on recorded_samples.ride = moments.ride and recorded_samples.n = moments.n
    left join engaged_samples
        on recorded_samples.ride = engaged_samples.ride
        and recorded_samples.n = engaged_samples.n
    window in_ride as (partition by recorded_samples.ride order by recorded_samples.n)
),

lowest as (
    select vehicle, min(development_m) as lowest_m from measured_gears group by vehicle
),

-- The timer was off between two records where a pause lies between them.
paused as (
    select told.ride, told.n
    from told
    inner join pauses
        on told.ride = pauses.ride
        and pauses.start_s < told.t_s
        and pauses.end_s > told.t_s - told.silence_s
    where told.silence_s > 10
),

numbered as (
    select
        told.*,
        count(*) filter (where told.cadence_rpm is distinct from told.before_rpm) over (
            partition by told.ride order by told.n rows unbounded preceding
        ) as value
    from told
),

held as (
    select ride, sum(seconds) as held_s
    from (
        select
            ride,
            sum(seconds) as seconds
        from numbered
        where cadence_rpm > 0
        group by ride, value
        having sum(seconds) >= 60 and max(speed_mps) > 1.1 * min(speed_mps)
    )
    group by ride
),

counted as (
    select
        told.ride,
        recorded_rides.vehicle,
        coalesce(sum(told.seconds) filter (where told.speed_mps >= 1), 0) as moving_s,
        sum(told.seconds) filter (where told.speed_mps >= 1 and told.cadence_rpm is null)
            as no_cadence_s,
        sum(told.seconds) filter (where told.cadence_rpm > 0) as turning_s,
        sum(told.seconds) filter (where told.cadence_rpm > 0 and told.no_speed) as no_speed_s,
        count(*) filter (
            where told.cadence_rpm is null and told.before_rpm is not null and told.speed_mps >= 1
        ) as dropouts,
        max(told.silence_s) filter (where paused.n is null) as silence_s,
        sum(told.seconds) filter (where told.cadence_rpm >= 30 and told.development_m > 0)
            as pedalled_s,
        sum(told.seconds) filter (
            where told.cadence_rpm >= 30 and told.development_m < 0.7 * lowest.lowest_m
        ) as stray_s,
        any_value(lowest.lowest_m) as lowest_m
    from told
    inner join recorded_rides using (ride)
    left join lowest using (vehicle)
    left join paused on told.ride = paused.ride and told.n = paused.n
    where recorded_rides.vehicle is not null
    group by told.ride, recorded_rides.vehicle
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
        coalesce(held.held_s, 0) as held_cadence_s,
        case
            when counted.lowest_m is not null
            then coalesce(counted.stray_s, 0) / nullif(counted.pedalled_s, 0)
        end as stray_share
    from counted
    left join held using (ride)
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
