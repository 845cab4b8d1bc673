-- cadence_bands: one row a vehicle and band of ten turns a minute, while the crank drove.
create view cadence_bands as
select
    recorded_rides.vehicle,
    cast(floor(cadence_rpm / 10) * 10 as integer) as from_rpm,
    cast(floor(cadence_rpm / 10) * 10 + 10 as integer) as to_rpm,
    sum(seconds) as seconds,
    sum(seconds) / sum(sum(seconds)) over (partition by recorded_rides.vehicle) as share
from ridden_cadences
inner join recorded_rides using (ride)
where recorded_rides.vehicle is not null
group by recorded_rides.vehicle, from_rpm, to_rpm
order by vehicle, from_rpm;

comment on view cadence_bands is 'how fast the crank was turned; one row a vehicle and band of cadences';
comment on column cadence_bands.vehicle is 'vehicle [name]';
comment on column cadence_bands.from_rpm is 'lower end of the band, in it [rpm]';
comment on column cadence_bands.to_rpm is 'upper end of the band, not in it [rpm]';
comment on column cadence_bands.seconds is 'time that the crank drove the wheel in it [s]';
comment on column cadence_bands.share is 'of the time that the crank drove the wheel [1]';
