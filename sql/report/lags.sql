-- lags: one row a ride, speed channel and lag that was tried, for the eight rides of each vehicle
-- that were pedalled most.
--
-- relative is the sharpness beside the best of the ride, as a quotient of densities: 1 is the
-- sharpest, 0.5 clusters half as densely. used_channel and used_lag_s are those that were chosen,
-- other_share is the weight of the other channel, under its own sharpest lag, in a mean of both;
-- rides_of_vehicle counts all its rides with a curve.
with pedalled as (
    select
        ride,
        count(development_m) as pedalled
    from engaged_samples
    group by ride
),

ranked as (
    select
        rides.vehicle,
        rides.ride,
        rides.path,
        rides.started_at,
        rides.channel,
        rides.speed_lag_s,
        coalesce(rides.other_share, 0) as other_share,
        row_number() over (
            partition by rides.vehicle order by pedalled.pedalled desc, rides.ride
        ) as place,
        count(*) over (partition by rides.vehicle) as rides_of_vehicle
    from rides
    inner join pedalled on rides.ride = pedalled.ride
    where rides.ride in (select lag_curves.ride from lag_curves)
)

select
    ranked.vehicle,
    ranked.ride,
    ranked.path,
    lag_curves.channel,
    lag_curves.lag_s,
    lag_curves.sharpness,
    exp(lag_curves.sharpness - max(lag_curves.sharpness) over (partition by ranked.ride))
        as relative,
    ranked.channel as used_channel,
    ranked.speed_lag_s as used_lag_s,
    ranked.other_share,
    ranked.rides_of_vehicle
from ranked
inner join lag_curves on ranked.ride = lag_curves.ride
where ranked.place <= 8
order by ranked.vehicle, ranked.started_at, ranked.ride, lag_curves.channel desc, lag_curves.lag_s
