-- fleet: one row a vehicle of the campaign, all that a shop asks first.
create view fleet as
with ridden as (
    select
        recorded_rides.vehicle,
        count(*) as rides,
        min(recorded_rides.started_at) as first_ride_at,
        max(recorded_rides.started_at) as last_ride_at,
        sum(coalesce(recorded_rides.distance_m, ways.metres)) as distance_m,
        sum(ways.moving_s) as moving_s
    from recorded_rides
    left join (
        select
            ride,
            sum(metres) as metres,
            sum(seconds) filter (where speed_from_mps >= 1) as moving_s
        from ridden_gears
        group by ride
    ) as ways using (ride)
    group by recorded_rides.vehicle
),

gears as (
    select vehicle, count(*) as gears_ridden from measured_gears group by vehicle
),

published as (
    select drivetrain, count(*) as gears_published
    from published_gears
    group by drivetrain
),

findings as (
    select
        vehicle,
        count(*) filter (where kind not in ('sound', 'not tested')) as found,
        bool_or(kind = 'sound') as sound
    from ladder_health
    group by vehicle
),

sensors as (
    select
        vehicle,
        count(*) filter (where state = 'failing') as failing,
        count(*) filter (where state = 'look') as odd,
        count(*) filter (where state = 'sound') as sound
    from sensor_health
    group by vehicle
)

select
    stated_vehicles.vehicle,
    stated_vehicles.kind,
    stated_vehicles.drivetrain,
    coalesce(ridden.rides, 0) as rides,
    ridden.first_ride_at,
    ridden.last_ride_at,
    ridden.distance_m,
    ridden.moving_s,
    service.odometer_m,
    measured_range.range,
    measured_range.published_range,
    coalesce(gears.gears_ridden, 0) as gears_ridden,
    published.gears_published,
    case
        when inferred_vehicles.effective_rollout_low_m is null then 'not measured'
        when exists (
            from ladder_health
            where ladder_health.vehicle = stated_vehicles.vehicle and ladder_health.kind = 'wheel'
        ) then 'departs'
        else 'as stated'
    end as rollout_state,
    case
        when findings.found > 0 then 'look'
        when findings.sound then 'sound'
        else 'not tested'
    end as health,
    coalesce(service.state, 'unknown') as service,
    service.next_on as service_on,
    case
        when sensors.failing > 0 then 'failing'
        when sensors.odd > 0 then 'look'
        when sensors.sound > 0 then 'sound'
        else 'not tested'
    end as sensors
from stated_vehicles
left join ridden using (vehicle)
left join service using (vehicle)
left join measured_range using (vehicle)
left join inferred_vehicles using (vehicle)
left join gears using (vehicle)
left join published using (drivetrain)
left join findings using (vehicle)
left join sensors using (vehicle)
order by stated_vehicles.place;

comment on view fleet is 'all vehicles side by side; one row a vehicle of the campaign';
comment on column fleet.vehicle is 'name of the vehicle [name]';
comment on column fleet.kind is 'bicycle, trike, tandem, cargo or velomobile [word]';
comment on column fleet.drivetrain is 'its drivetrain, null where the campaign publishes none [name]';
comment on column fleet.rides is 'rides of it that are stored [count]';
comment on column fleet.first_ride_at is 'when the first of them began, null without any [UTC]';
comment on column fleet.last_ride_at is 'when the last of them began, null without any [UTC]';
comment on column fleet.distance_m is 'way ridden in them [m]';
comment on column fleet.moving_s is 'time that it rolled in them, 1 m/s or more [s]';
comment on column fleet.odometer_m is 'last reading stated and the way ridden since, null where none is stated [m]';
comment on column fleet.range is 'highest measured ratio over lowest, a factor [1]';
comment on column fleet.published_range is 'the same of the published ladder, null without one [1]';
comment on column fleet.gears_ridden is 'gears measured [count]';
comment on column fleet.gears_published is 'gears published, null without any [count]';
comment on column fleet.rollout_state is 'as stated, departs, or not measured [word]';
comment on column fleet.health is 'look (see ladder_health), sound, or not tested [word]';
comment on column fleet.service is 'overdue, soon, later, unknown, or no interval [word]';
comment on column fleet.service_on is 'day of the next service, by months or by the pace so far; null where neither tells [date]';
comment on column fleet.sensors is 'the worst of its rides: failing, look, sound, or not tested [word]';
