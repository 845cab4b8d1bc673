-- all_spans: one row a vehicle and unbroken span of developments or ratios that it can take.
--
-- A gear is a span without width. A stepless drivetrain takes what is published, on the vehicle's
-- wheel; where nothing is, or the wheel is not known, what it was ridden at, half a percent of the
-- time left out at either end.
create view all_spans as
with stepless as (
    select
        vehicle,
        drivetrain,
        coalesce(effective_rollout_m, stated_rollout_m) as rollout_m
    from stated_vehicles
    inner join inferred_vehicles using (vehicle)
    where inferred_vehicles.stepless
),

published as (
    select
        stepless.vehicle,
        published_spans.lowest_ratio * stepless.rollout_m as low,
        published_spans.highest_ratio * stepless.rollout_m as high
    from stepless
    inner join published_spans using (drivetrain)
    where stepless.rollout_m is not null
),

-- Share of the driven time at shorter developments, and at these or shorter ones.
ranked as (
    select
        recorded_rides.vehicle,
        ridden_cadences.development_m,
        sum(ridden_cadences.seconds) over shorter
        / sum(ridden_cadences.seconds) over (partition by recorded_rides.vehicle) as share_until
    from ridden_cadences
    inner join recorded_rides using (ride)
    semi join stepless on recorded_rides.vehicle = stepless.vehicle
    anti join published on recorded_rides.vehicle = published.vehicle
    where ridden_cadences.development_m is not null
    window shorter as (
        partition by recorded_rides.vehicle
        order by ridden_cadences.development_m
    )
)

select
    vehicle,
    ratio as low,
    ratio as high,
    'gear' as known_by
from all_gears
union all
select
    vehicle,
    low,
    high,
    'published' as known_by
from published
union all
select
    vehicle,
    min(development_m) filter (where share_until >= 0.005) as low,
    min(development_m) filter (where share_until >= 0.995) as high,
    'ridden' as known_by
from ranked
group by vehicle
order by all;

comment on view all_spans is 'what each vehicle can be set to; one row a vehicle and unbroken span, a gear being one without width';
comment on column all_spans.vehicle is 'vehicle [name]';
comment on column all_spans.low is 'lower end: of a gear its ratio as in all_gears, of a stepless drivetrain a development in m [1 or m]';
comment on column all_spans.high is 'upper end, likewise [1 or m]';
comment on column all_spans.known_by is 'gear, published, or ridden: as far as the rides went, and perhaps not the end [word]';
