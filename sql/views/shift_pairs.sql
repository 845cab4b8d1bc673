-- shift_pairs: one row a vehicle and two gears, how often one was shifted from one to the other.
create view shift_pairs as
select
    recorded_rides.vehicle,
    shifts.from_gear,
    shifts.to_gear,
    count(*) as shifts,
    count(*) / sum(count(*)) over (partition by recorded_rides.vehicle) as share,
    avg(shifts.speed_mps) as speed_mps,
    avg(shifts.cadence_before_rpm) as cadence_before_rpm,
    avg(shifts.cadence_after_rpm) as cadence_after_rpm
from shifts
inner join recorded_rides using (ride)
where recorded_rides.vehicle is not null
group by recorded_rides.vehicle, shifts.from_gear, shifts.to_gear
order by recorded_rides.vehicle, shifts desc, shifts.from_gear, shifts.to_gear;

comment on view shift_pairs is 'shifts from gear to gear, most frequent first; one row a vehicle, from_gear and to_gear';
comment on column shift_pairs.vehicle is 'vehicle [name]';
comment on column shift_pairs.from_gear is 'gear before [count]';
comment on column shift_pairs.to_gear is 'gear after [count]';
comment on column shift_pairs.shifts is 'shifts from the one to the other [count]';
comment on column shift_pairs.share is 'of the shifts of this vehicle [1]';
comment on column shift_pairs.speed_mps is 'mean speed during these shifts [m/s]';
comment on column shift_pairs.cadence_before_rpm is 'mean cadence before these shifts [rpm]';
comment on column shift_pairs.cadence_after_rpm is 'mean cadence after these shifts [rpm]';
