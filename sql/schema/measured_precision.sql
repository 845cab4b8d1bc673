-- measured_precision: one row a vehicle with measured gears.
create table measured_precision (
    vehicle text not null,
    freedom integer not null,
    spell_sd double not null,
    ride_sd double not null,
    second_sd double not null,
    second_mps double not null,
    bias_mps double not null,
    cadence_low_rpm double not null,
    cadence_high_rpm double not null
);
comment on table measured_precision is 'what seconds, spells and rides leave uncertain of a gear; one row a vehicle with measured gears';
comment on column measured_precision.vehicle is 'name of the vehicle [name]';
comment on column measured_precision.freedom is 'degrees of freedom of the intervals, after Student [count]';
comment on column measured_precision.spell_sd is 'standard deviation of ln(development) from one spell in a gear to the next, however long they are [1]';
comment on column measured_precision.ride_sd is 'the same from one ride to the next, all gears alike [1]';
comment on column measured_precision.second_sd is 'the same of one second of steady pedalling, errors that last counted in [1]';
comment on column measured_precision.second_mps is 'standard deviation of the speed over one second [m/s]';
comment on column measured_precision.bias_mps is 'what the speed may be off by in all spells of a gear alike [m/s]';
comment on column measured_precision.cadence_low_rpm is 'cadence that a quarter of the pedalling stays below [rpm]';
comment on column measured_precision.cadence_high_rpm is 'cadence that a quarter of the pedalling goes beyond [rpm]';
