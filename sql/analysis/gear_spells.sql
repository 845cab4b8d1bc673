-- gear_spells: one row a spell of ten seconds or more that one gear was driven in.
--
-- A spell bears up to three seconds without a driven sample: a foot that rests, a lost record. The
-- samples of one spell err together, so a spell counts once however long it is: whoever asks
-- whether a gear departs from itself asks spells, not seconds.
-- Windows without order go through ridden_samples as it was laid down, see shifts.
with driven as (
    select
        number,
        t_s,
        gear,
        development_m,
        seconds,
        lag(number) over () is distinct from number
        or lag(gear) over () <> gear
        or t_s - lag(t_s) over () > 4 as begins
    from ridden_samples
    where
        coupled
        and gear is not null
        and development_m > 0
        and gear_probability >= 0.9
        and seconds is not null
        and number >= (select min(number) from numbered_rides)
),

numbered as (
    select
        *,
        count(*) filter (where begins) over (rows unbounded preceding) as spell
    from driven
),

spells as (
    select
        any_value(number) as number,
        min(t_s) as start_s,
        any_value(gear) as gear,
        sum(seconds) as seconds,
        median(development_m) as development_m
    from numbered
    group by spell
    having sum(seconds) >= 10
)

select
    numbered_rides.ride,
    spells.start_s,
    spells.gear,
    spells.seconds,
    spells.development_m
from spells
inner join numbered_rides using (number)
order by numbered_rides.ride, spells.start_s
