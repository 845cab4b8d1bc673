-- gear_spells: one row a spell of ten seconds or more that one gear was driven in.
--
-- A spell bears up to three seconds without a driven sample: a foot that rests, a lost record. The
-- samples of one spell err together, so a spell counts once however long it is: whoever asks
-- whether a gear departs from itself asks spells, not seconds.
with driven as (
    select
        samples.ride,
        samples.t_s,
        samples.gear,
        samples.development_m,
        moments.seconds,
        samples.gear is distinct from lag(samples.gear) over in_ride
        or samples.t_s - lag(samples.t_s) over in_ride > 4 as begins
    from samples
    inner join moments on samples.ride = moments.ride and samples.n = moments.n
    where
        samples.coupled
        and samples.gear is not null
        and samples.development_m > 0
        and samples.gear_probability >= 0.9
    window in_ride as (partition by samples.ride order by samples.t_s)
),

numbered as (
    select
        *,
        count(*) filter (where begins) over (
            partition by ride order by t_s rows unbounded preceding
        ) as spell
    from driven
)

select
    ride,
    min(t_s) as start_s,
    any_value(gear) as gear,
    sum(seconds) as seconds,
    median(development_m) as development_m
from numbered
group by ride, spell
having sum(seconds) >= 10
order by ride, start_s
