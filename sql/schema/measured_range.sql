-- measured_range: one row a vehicle with two measured gears or more, or ridden stepless.
create table measured_range (
    vehicle text primary key,
    low_gear integer,
    high_gear integer,
    range double not null,
    range_low double not null,
    range_high double not null,
    published_range double,
    complete boolean
);
comment on table measured_range is 'from the lowest to the highest measured gear; one row a vehicle';
comment on column measured_range.vehicle is 'name of the vehicle [name]';
comment on column measured_range.low_gear is 'lowest measured gear, null where stepless [count]';
comment on column measured_range.high_gear is 'highest measured gear, null where stepless [count]';
comment on column measured_range.range is 'highest measured ratio over lowest, a factor [1]';
comment on column measured_range.range_low is 'lower end of its 95 % interval [1]';
comment on column measured_range.range_high is 'upper end of its 95 % interval [1]';
comment on column measured_range.published_range is 'highest published ratio over lowest, a factor [1]';
comment on column measured_range.complete is 'whether the two are the published ends, null without published ones [true/false]';
