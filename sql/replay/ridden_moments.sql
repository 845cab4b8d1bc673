-- ridden_moments: one row a second of the rides $rides that a replay needs, in order.
--
-- Loggers may write many samples a second: they are taken together, for nobody shifts that often.
select
    samples.ride,
    min(samples.t_s) as t_s,
    coalesce(sum(moments.seconds), 0) as seconds,
    coalesce(sum(moments.metres), 0) as metres,
    avg(samples.speed_mps) as speed_mps,
    avg(samples.cadence_rpm) as cadence_rpm,
    avg(samples.development_m) as development_m,
    max_by(samples.gear, samples.n) as gear,
    avg(coalesce(samples.coupled, false)::int) >= 0.5 as coupled,
    avg(moments.grade) as grade,
    avg(samples.power_w) as power_w
from samples
inner join moments on samples.ride = moments.ride and samples.n = moments.n
where samples.ride in (select unnest($rides))
group by samples.ride, floor(samples.t_s)
order by samples.ride, t_s
