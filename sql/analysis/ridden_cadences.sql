-- ridden_cadences: one row a ride, gear and cadence, while the crank drove the wheel.
with driven as (
    select
        number,
        gear,
        cast(round(cadence_rpm) as integer) as cadence_rpm,
        sum(seconds) as seconds
    from ridden_samples
    where
        coupled and cadence_rpm > 0 and seconds > 0
        and number >= (select min(number) from numbered_rides)
    group by all
)

select
    numbered_rides.ride,
    driven.gear,
    driven.cadence_rpm,
    driven.seconds
from driven
inner join numbered_rides using (number)
order by numbered_rides.number, driven.gear, driven.cadence_rpm
