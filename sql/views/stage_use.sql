-- stage_use: one row a vehicle with several shifted stages, how often each of them is shifted.
create view stage_use as
with passages as (
    select
        vehicle,
        concat_ws(
            ' – ',
            coalesce(from_combination, 'gear ' || from_gear),
            coalesce(through_combination, 'gear ' || through_gear),
            coalesce(to_combination, 'gear ' || to_gear)
        ) as passage,
        count(*) as times
    from stage_shifts
    where through_gear is not null
    group by all
)

select
    stage_shifts.vehicle,
    count(*) as shifts,
    count(*) filter (where stage_shifts.moved = 'front') as front,
    count(*) filter (where stage_shifts.moved = 'rear') as rear,
    count(*) filter (where stage_shifts.moved = 'both') as both_stages,
    count(*) filter (where stage_shifts.through_gear is not null) as passing,
    count(*) filter (where stage_shifts.moved = 'open') as open,
    any_value(often.passage) as often_passed
from stage_shifts
left join (
    select vehicle, first(passage order by times desc, passage) as passage
    from passages
    group by vehicle
) as often using (vehicle)
group by stage_shifts.vehicle
order by stage_shifts.vehicle;

comment on view stage_use is 'how often each stage of a drivetrain with several that are shifted is moved; one row a vehicle';
comment on column stage_use.vehicle is 'vehicle [name]';
comment on column stage_use.shifts is 'shifts, a double shift as one [count]';
comment on column stage_use.front is 'shifts of what is shifted first from the crank on alone [count]';
comment on column stage_use.rear is 'shifts of what is behind it alone [count]';
comment on column stage_use.both_stages is 'shifts of both, at once or one right after the other [count]';
comment on column stage_use.passing is 'of these, double shifts that are seen to pass through a third combination [count]';
comment on column stage_use.open is 'shifts of which combinations that share a gear leave open what was moved [count]';
comment on column stage_use.often_passed is 'settings of the most frequent double shift, from, through and to; null without one [text]';
