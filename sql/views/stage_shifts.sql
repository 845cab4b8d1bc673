-- stage_shifts: one row a shift on a drivetrain of several shifted stages, which of them it moved.
--
-- Front is what is shifted first from the crank on (published_combinations.front), rear all behind
-- it. A gear that several combinations share leaves open which of them was ridden: a stage counts
-- as moved where all pairs of combinations of the two gears agree, else that is open.
-- Two shifts at most 4 s apart, of which one moves the front and the other the rear, are a double
-- shift: one row, through the gear between them.
create view stage_shifts as
with compound as (
    select drivetrain
    from published_combinations
    group by drivetrain
    having count(distinct front) > 1 and count(*) > count(distinct front)
),

settings as (
    select
        drivetrain,
        gear,
        combination,
        front,
        substr(combination, length(front) + 1) as rest
    from published_combinations
    semi join compound using (drivetrain)
),

-- Null where several combinations share the gear.
named as (
    select
        drivetrain,
        gear,
        case when count(*) = 1 then any_value(combination) end as combination
    from settings
    group by drivetrain, gear
),

made as (
    select
        recorded_rides.vehicle,
        stated_vehicles.drivetrain,
        shifts.*,
        row_number() over (partition by shifts.ride order by shifts.t_s) as place
    from shifts
    inner join recorded_rides using (ride)
    inner join stated_vehicles using (vehicle)
    semi join compound using (drivetrain)
),

pairs as (
    select distinct drivetrain, from_gear, to_gear
    from made
),

moves as (
    select
        pairs.drivetrain,
        pairs.from_gear,
        pairs.to_gear,
        list(
            distinct case
                when departed.front = reached.front then 'rear'
                when departed.rest = reached.rest then 'front'
                else 'both'
            end
        ) as possible
    from pairs
    inner join settings as departed
        on pairs.drivetrain = departed.drivetrain and pairs.from_gear = departed.gear
    inner join settings as reached
        on pairs.drivetrain = reached.drivetrain and pairs.to_gear = reached.gear
    group by pairs.drivetrain, pairs.from_gear, pairs.to_gear
),

told as (
    select
        made.*,
        case when len(moves.possible) = 1 then moves.possible[1] else 'open' end as moved
    from made
    left join moves using (drivetrain, from_gear, to_gear)
),

beside as (
    select
        *,
        lead(t_s) over in_ride as next_t_s,
        lead(to_gear) over in_ride as next_gear,
        lead(while_decoupled) over in_ride as next_decoupled,
        coalesce(
            lead(from_gear) over in_ride = to_gear
            and lead(t_s) over in_ride - t_s <= 4
            and moved in ('front', 'rear')
            and lead(moved) over in_ride in ('front', 'rear')
            and lead(moved) over in_ride <> moved,
            false
        ) as may_double
    from told
    window in_ride as (partition by ride order by place)
),

-- Front, rear and front again in quick succession is a double shift and another shift, not two.
runs as (
    select
        *,
        count(*) filter (where not may_double) over (
            partition by ride order by place rows unbounded preceding
        ) as run
    from beside
),

doubled as (
    select
        *,
        may_double and row_number() over (
            partition by ride, run, may_double order by place
        ) % 2 = 1 as is_double
    from runs
),

rows as (
    select
        *,
        coalesce(lag(is_double) over (partition by ride order by place), false) as is_second_half
    from doubled
)

select
    rows.vehicle,
    rows.ride,
    rows.t_s,
    rows.from_gear,
    case when rows.is_double then rows.to_gear end as through_gear,
    case when rows.is_double then rows.next_gear else rows.to_gear end as to_gear,
    departed.combination as from_combination,
    passed.combination as through_combination,
    reached.combination as to_combination,
    case when rows.is_double then 'both' else rows.moved end as moved,
    rows.while_decoupled or (rows.is_double and rows.next_decoupled) as while_decoupled
from rows
left join named as departed
    on rows.drivetrain = departed.drivetrain and rows.from_gear = departed.gear
left join named as passed
    on rows.is_double and rows.drivetrain = passed.drivetrain and rows.to_gear = passed.gear
left join named as reached
    on rows.drivetrain = reached.drivetrain
        and reached.gear = case when rows.is_double then rows.next_gear else rows.to_gear end
where not rows.is_second_half
order by rows.vehicle, rows.ride, rows.t_s;

comment on view stage_shifts is 'which stages were moved in each shift of a drivetrain with several that are shifted; one row a shift, or two that make a double shift';
comment on column stage_shifts.vehicle is 'vehicle [name]';
comment on column stage_shifts.ride is 'ride it happened in [hexadecimal]';
comment on column stage_shifts.t_s is 'middle of the shift, of the first of two, since the ride''s started_at [s]';
comment on column stage_shifts.from_gear is 'gear before [count]';
comment on column stage_shifts.through_gear is 'gear passed through in a double shift, null in others [count]';
comment on column stage_shifts.to_gear is 'gear after [count]';
comment on column stage_shifts.from_combination is 'settings before, null where several combinations share the gear [name]';
comment on column stage_shifts.through_combination is 'settings passed through, null likewise, and where none are known to be [name]';
comment on column stage_shifts.to_combination is 'settings after, null where several combinations share the gear [name]';
comment on column stage_shifts.moved is 'front (what is shifted first from the crank on), rear (what is behind it), both, or open where combinations that share a gear leave it so [word]';
comment on column stage_shifts.while_decoupled is 'whether it was made while the crank did not drive the wheel, as of shifts [true/false]';
