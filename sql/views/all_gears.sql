-- all_gears: one row a gear that a vehicle has, or was found to have.
--
-- A gear ridden too briefly to be measured keeps its published ratio: both are on one scale.
-- Without drivetrain and rollout there are no ratios, and developments serve as well.
create view all_gears as
with published as (
    select
        stated_vehicles.vehicle,
        published_gears.gear,
        published_gears.label,
        published_gears.ratio
    from published_gears
    inner join stated_vehicles using (drivetrain)
)

select
    vehicle,
    gear,
    coalesce(published.label, measured_gears.label) as label,
    coalesce(measured_gears.ratio, published.ratio, measured_gears.development_m) as ratio,
    gear = min(gear) over (partition by vehicle) as lowest,
    gear = max(gear) over (partition by vehicle) as highest
from published
full join measured_gears using (vehicle, gear)
order by vehicle, gear;

comment on view all_gears is 'gears of each vehicle, published or measured; one row a vehicle and gear';
comment on column all_gears.vehicle is 'vehicle [name]';
comment on column all_gears.gear is 'number of the gear, 1 = lowest ratio [count]';
comment on column all_gears.label is 'every combination that makes this gear [text]';
comment on column all_gears.ratio is 'wheel turns per crank turn, measured if it was, else published; without drivetrain and rollout the development in m [1]';
comment on column all_gears.lowest is 'whether it is the lowest gear known [true/false]';
comment on column all_gears.highest is 'whether it is the highest gear known [true/false]';
