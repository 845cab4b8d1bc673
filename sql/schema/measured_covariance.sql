-- measured_covariance: one row every two measured gears of a vehicle, and each with itself.
create table measured_covariance (
    vehicle text not null,
    gear integer not null,
    other integer not null,
    covariance double not null
);
comment on table measured_covariance is 'how gears are known together; one row a vehicle and two measured gears, each with itself, too';
comment on column measured_covariance.vehicle is 'name of the vehicle [name]';
comment on column measured_covariance.gear is 'number of the gear [count]';
comment on column measured_covariance.other is 'number of the other gear, or of the same [count]';
comment on column measured_covariance.covariance is 'covariance of the logarithms of their developments as measured [1]';
