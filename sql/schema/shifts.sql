-- shifts: one row a sweep, that is, gear changes in one direction less than 3 s apart.
create table shifts (
    ride text not null,
    t_s double not null,
    from_gear integer not null,
    to_gear integer not null,
    step double,
    speed_mps double,
    cadence_before_rpm double,
    cadence_after_rpm double,
    power_w double,
    grade double,
    while_decoupled boolean not null
);
comment on table shifts is 'shifts; one row a sweep: changes in one direction less than 3 s apart';
comment on column shifts.ride is 'ride it happened in [hexadecimal]';
comment on column shifts.t_s is 'middle of the shift, since the ride''s started_at [s]';
comment on column shifts.from_gear is 'gear before [count]';
comment on column shifts.to_gear is 'gear after [count]';
comment on column shifts.step is 'ratio after over ratio before, minus 1 [1]';
comment on column shifts.speed_mps is 'mean speed during the shift [m/s]';
comment on column shifts.cadence_before_rpm is 'mean cadence over the last seconds before [rpm]';
comment on column shifts.cadence_after_rpm is 'mean cadence over the first seconds after [rpm]';
comment on column shifts.power_w is 'mean power during the shift [W]';
comment on column shifts.grade is 'rise of the road over its length, mean of moments.grade before and after, null without altitudes [1]';
comment on column shifts.while_decoupled is 'whether it was made while the crank did not drive the wheel [true/false]';
