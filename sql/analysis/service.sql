-- service: one row a vehicle, what its odometer tells and when it is due for service.
--
-- The odometer is the last reading that is stated, and the way ridden since. A ride on the day of a
-- service counts as ridden after it: that makes the next one due rather too soon than too late.
-- Way is the recording's own count. Where the campaign says that the unit is set to another wheel
-- than its sensor counts, what the sensor told is set right; a rollout that was inferred is not
-- used, for it is no better known than the unit's setting.
with rides as (
    select
        stated_vehicles.vehicle,
        cast(recorded_rides.started_at as date) as day,
        coalesce(recorded_rides.distance_m, ways.metres, 0)
        / case
            when recorded_rides.speed_source = 'wheel sensor'
            then coalesce(stated_vehicles.unit_factor, 1)
            else 1
        end as metres
    from recorded_rides
    inner join stated_vehicles using (vehicle)
    left join (
        select ride, sum(metres) as metres from ridden_gears group by ride
    ) as ways using (ride)
),

last_services as (
    select
        vehicle,
        max(serviced_on) as serviced_on,
        arg_max(odometer_km, serviced_on) * 1000 as last_known_m,
        max(serviced_on) filter (where odometer_km is not null) as known_on
    from stated_services
    group by vehicle
),

firsts as (
    select vehicle, min(day) as first_on from rides group by vehicle
),

-- What the odometer told, and when: at a service, or before the first ride.
readings as (
    select vehicle, serviced_on as day, odometer_km * 1000 as metres
    from stated_services
    where odometer_km is not null
    union all
    select stated_vehicles.vehicle, firsts.first_on, stated_vehicles.odometer_km * 1000
    from stated_vehicles
    left join firsts using (vehicle)
    where stated_vehicles.odometer_km is not null
),

last_readings as (
    select
        vehicle,
        -- A vehicle that was never ridden has read what was stated for ever.
        arg_max(metres, (coalesce(day, date '1900-01-01'), metres)) as metres,
        max(coalesce(day, date '1900-01-01')) as day
    from readings
    group by vehicle
),

odometers as (
    select
        last_readings.vehicle,
        any_value(last_readings.metres)
        + coalesce(sum(rides.metres) filter (where rides.day >= last_readings.day), 0)
            as odometer_m
    from last_readings
    left join rides using (vehicle)
    group by last_readings.vehicle
),

starts as (
    select
        stated_vehicles.vehicle,
        stated_vehicles.service_every_km * 1000 as every_m,
        stated_vehicles.service_every_months as every_months,
        last_services.serviced_on,
        odometers.odometer_m,
        firsts.first_on,
        case
            when last_services.serviced_on is not null then 'service'
            when stated_vehicles.odometer_km is not null then 'odometer'
            when firsts.first_on is not null then 'first ride'
            else 'nothing'
        end as counted_from,
        case
            when last_services.known_on = last_services.serviced_on
            then last_services.last_known_m
        end as serviced_at_m
    from stated_vehicles
    left join last_services using (vehicle)
    left join odometers using (vehicle)
    left join firsts using (vehicle)
),

ridden as (
    select
        starts.vehicle,
        coalesce(sum(rides.metres) filter (
            where starts.serviced_on is null or rides.day >= starts.serviced_on
        ), 0) as since_m
    from starts
    left join rides using (vehicle)
    group by starts.vehicle
),

-- Eight weeks back from the day of the run; of a younger vehicle those since its first ride.
weeks as (
    select
        firsts.vehicle,
        week,
        coalesce(sum(rides.metres) filter (
            where rides.day > told_on.day - 7 * (week + 1) and rides.day <= told_on.day - 7 * week
        ), 0) as metres
    from firsts
    cross join told_on
    cross join (select cast(range as integer) as week from range(8)) as back
    left join rides using (vehicle)
    where firsts.first_on <= told_on.day - 7 * (week + 1) + 1
    group by firsts.vehicle, week
),

paces as (
    select
        vehicle,
        avg(metres) as metres_per_week,
        -- How far the mean would be off if the weeks were drawn anew.
        stddev_samp(metres) / sqrt(count(*)) / nullif(avg(metres), 0) as uncertainty
    from weeks
    group by vehicle
    having count(*) >= 2
),

counted as (
    select
        starts.*,
        paces.metres_per_week,
        paces.uncertainty,
        case
            when starts.serviced_at_m is not null then starts.odometer_m - starts.serviced_at_m
            when starts.counted_from = 'odometer' then starts.odometer_m
            when starts.counted_from <> 'nothing' then ridden.since_m
        end as since_service_m,
        coalesce(starts.serviced_on, starts.first_on) as counted_on
    from starts
    inner join ridden using (vehicle)
    left join paces using (vehicle)
),

due as (
    select
        counted.*,
        told_on.day as told_on,
        counted.every_m - counted.since_service_m as remaining_m,
        -- Months end where the calendar ends them: six after 31 August is the last of February.
        cast(
            counted.counted_on
            + to_months(cast(floor(counted.every_months) as integer))
            + to_days(
                cast(round((counted.every_months - floor(counted.every_months)) * 30.44) as integer)
            ) as date
        ) as due_on
    from counted
    cross join told_on
),

expected as (
    select
        *,
        date_diff('day', told_on, due_on) as remaining_days,
        case
            when remaining_m <= 0 then told_on
            when remaining_m / metres_per_week <= 520
            then told_on + cast(ceil(remaining_m / metres_per_week * 7) as integer)
        end as expected_on
    from due
)

select
    vehicle,
    told_on,
    odometer_m,
    serviced_on,
    counted_from,
    since_service_m,
    odometer_m + remaining_m as due_at_m,
    remaining_m,
    due_on,
    cast(remaining_days as integer) as remaining_days,
    metres_per_week,
    case
        when uncertainty is null then 'unknown'
        when uncertainty <= 0.25 then 'steady'
        when uncertainty <= 0.5 then 'uneven'
        else 'erratic'
    end as pace,
    expected_on,
    least(due_on, expected_on) as next_on,
    case
        when due_on is null and expected_on is null then null
        when expected_on is null or due_on <= expected_on then 'months'
        else 'distance'
    end as next_by,
    case
        when every_m is null and every_months is null then 'no interval'
        when remaining_m < 0 or remaining_days < 0 then 'overdue'
        when
            remaining_m <= every_m / 10
            or remaining_days <= 30
            or expected_on <= told_on + 30
        then 'soon'
        when coalesce(remaining_m, remaining_days) is null then 'unknown'
        else 'later'
    end as state
from expected
order by vehicle
