-- use_by_gear: one row a gear that a vehicle has, how much it was used; those never used with 0.
--
-- A vehicle of which nothing can be told has no rows.
create view use_by_gear as
with used as (
    select
        vehicle,
        gear,
        development_from_m,
        sum(seconds) as seconds,
        sum(metres) as metres,
        sum(climb_m) as climb_m,
        sum(work_j) as work_j,
        sum(powered_s) as powered_s,
        count(distinct ride) as rides
    from driven_gears
    group by all
),

had as (
    select vehicle, gear, label
    from all_gears
    where vehicle in (select vehicle from used where gear is not null)
),

-- Unused is none where others have some, and unknown where none has.
known as (
    select
        vehicle,
        bool_or(climb_m is not null) as has_climb,
        bool_or(work_j is not null) as has_power,
        bool_or(metres is not null) as has_way,
        sum(seconds) as seconds,
        sum(metres) as metres,
        sum(climb_m) as climb_m,
        sum(work_j) as work_j
    from used
    group by vehicle
)

select
    vehicle,
    gear,
    had.label,
    used.development_from_m,
    coalesce(used.seconds, 0) as seconds,
    coalesce(used.metres, case when known.has_way then 0 end) as metres,
    coalesce(used.climb_m, case when known.has_climb then 0 end) as climb_m,
    coalesce(used.work_j, case when known.has_power then 0 end) as work_j,
    coalesce(used.seconds, 0) / known.seconds as share,
    coalesce(used.metres, 0) / nullif(known.metres, 0) as share_of_way,
    coalesce(used.climb_m, 0) / nullif(known.climb_m, 0) as share_of_climb,
    coalesce(used.work_j, 0) / nullif(known.work_j, 0) as share_of_work,
    coalesce(used.powered_s, 0) as powered_s,
    coalesce(used.rides, 0) as rides
from used
full join had using (vehicle, gear)
inner join known using (vehicle)
order by vehicle, gear, used.development_from_m;

comment on view use_by_gear is 'use of each gear over all rides; one row a vehicle and gear, or band of developments where none can be named';
comment on column use_by_gear.vehicle is 'vehicle [name]';
comment on column use_by_gear.gear is 'number of the gear, 1 = lowest ratio; null where none can be named [count]';
comment on column use_by_gear.label is 'every combination that makes this gear [text]';
comment on column use_by_gear.development_from_m is 'lower end of the band of developments, half a metre wide, null where there are gears [m]';
comment on column use_by_gear.seconds is 'time that the crank drove in it, 0 for a gear never used [s]';
comment on column use_by_gear.metres is 'way in that time [m]';
comment on column use_by_gear.climb_m is 'rise in that time, null without altitudes [m]';
comment on column use_by_gear.work_j is 'power over that time as far as recorded, null where no ride recorded any [J]';
comment on column use_by_gear.share is 'of the time that the crank drove in any [1]';
comment on column use_by_gear.share_of_way is 'of the way that the crank drove in any [1]';
comment on column use_by_gear.share_of_climb is 'of the rise in any, null without altitudes [1]';
comment on column use_by_gear.share_of_work is 'of the work in any, null without power [1]';
comment on column use_by_gear.powered_s is 'time with recorded power [s]';
comment on column use_by_gear.rides is 'rides in which it drove [count]';
