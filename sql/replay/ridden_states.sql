-- ridden_states: one row a measured ride of $vehicle, what its moments and shifts follow from.
select
    rides.ride,
    inferences.fingerprint,
    coalesce(made.shifts, 0) as shifts,
    made.told,
    ride_profiles.ride is not null as has_moments
from rides
left join inferences on rides.vehicle = inferences.vehicle
left join ride_profiles on rides.ride = ride_profiles.ride
left join (
    select ride, count(*) as shifts, sum(hash(shifts))::text as told
    from shifts
    group by ride
) as made on rides.ride = made.ride
where rides.vehicle = $vehicle and rides.gear_source is not null
order by rides.started_at, rides.ride
