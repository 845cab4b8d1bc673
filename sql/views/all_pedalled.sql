-- all_pedalled: one row a sample of a vehicle's ride that has a development.
--
-- Read from ridden_samples, where rides are laid down in one piece; a ride that is not laid down
-- yet is joined here, and where all are, that half costs nothing.
create view all_pedalled as
select
    recorded_rides.vehicle,
    numbered_rides.ride,
    laid.t_s,
    laid.cadence_rpm,
    laid.development_m,
    laid.gear,
    coalesce(laid.coupled, false) as driving,
    coalesce(laid.seconds, 1) as seconds
from ridden_samples as laid
inner join numbered_rides on laid.number = numbered_rides.number
inner join recorded_rides on numbered_rides.ride = recorded_rides.ride
where
    recorded_rides.vehicle is not null
    and laid.development_m > 0
    and isfinite(laid.development_m)
union all
select
    unlaid.vehicle,
    unlaid.ride,
    recorded.t_s,
    recorded.cadence_rpm,
    engaged.development_m,
    engaged.gear,
    coalesce(engaged.coupled, false) as driving,
    coalesce(moments.seconds, 1) as seconds
from (
    select ride, vehicle
    from recorded_rides
    where vehicle is not null and ride not in (select numbered_rides.ride from numbered_rides)
) as unlaid
inner join engaged_samples as engaged on unlaid.ride = engaged.ride
inner join recorded_samples as recorded
    on engaged.ride = recorded.ride and engaged.n = recorded.n
left join moments on engaged.ride = moments.ride and engaged.n = moments.n
where engaged.development_m > 0 and isfinite(engaged.development_m);

comment on view all_pedalled is 'samples with a development, of rides that belong to a vehicle; one row a ride and time';
comment on column all_pedalled.vehicle is 'vehicle that was ridden [name]';
comment on column all_pedalled.ride is 'ride the sample belongs to [hexadecimal]';
comment on column all_pedalled.t_s is 'since the ride''s started_at, pauses count [s]';
comment on column all_pedalled.cadence_rpm is 'crank turns per minute [rpm]';
comment on column all_pedalled.development_m is 'travel per crank turn, lag taken out [m]';
comment on column all_pedalled.gear is 'selected gear, 1 = lowest, null where none can be named [count]';
comment on column all_pedalled.driving is 'whether the crank surely drives the wheel [true/false]';
comment on column all_pedalled.seconds is 'time that the sample stands for, as of moments, 1 without [s]';
