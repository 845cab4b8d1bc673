-- ridden_cadences: one row a ride, gear and cadence, while the crank drove the wheel.
--
-- Where no gear is named, bands of development of 2 % are kept apart: on stepless drivetrains what
-- another ratio would have asked follows from them.
with driven as (
    select
        number,
        gear,
        cast(round(cadence_rpm) as integer) as cadence_rpm,
        sum(seconds) as seconds,
        case
            when gear is null then sum(development_m * seconds) / sum(seconds)
        end as development_m
    from ridden_samples
    where
        coupled and cadence_rpm > 0 and seconds > 0
        and number >= (select min(number) from numbered_rides)
    group by
        number,
        gear,
        cast(round(cadence_rpm) as integer),
        case when gear is null and development_m > 0 then floor(ln(development_m) / 0.02) end
)

select
    numbered_rides.ride,
    driven.gear,
    driven.cadence_rpm,
    driven.seconds,
    driven.development_m
from driven
inner join numbered_rides using (number)
order by numbered_rides.number, driven.gear, driven.cadence_rpm, driven.development_m
