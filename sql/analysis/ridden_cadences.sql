-- ridden_cadences: one row a ride, gear and cadence, while the crank drove the wheel.
select
    samples.ride,
    samples.gear,
    cast(round(samples.cadence_rpm) as integer) as cadence_rpm,
    sum(moments.seconds) as seconds
from samples
inner join moments on samples.ride = moments.ride and samples.n = moments.n
where samples.coupled and samples.cadence_rpm > 0 and moments.seconds > 0
group by all
order by all
