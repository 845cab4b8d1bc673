-- replays: one row a vehicle, drivetrain, policy and assumption.
create table replays (
    vehicle text not null,
    drivetrain text,
    policy text not null,
    assumption text not null,
    rides integer not null,
    low_rpm double not null,
    high_rpm double not null,
    seconds double not null,
    distance_m double not null,
    moving_s double not null,
    below double,
    below_low double,
    below_high double,
    above double,
    above_low double,
    above_high double,
    outside double,
    outside_low double,
    outside_high double,
    spread double,
    spread_low double,
    spread_high double,
    shifts_per_km double,
    shifts_per_km_low double,
    shifts_per_km_high double,
    bottom_s double,
    bottom_low_s double,
    bottom_high_s double,
    top_s double,
    top_low_s double,
    top_high_s double,
    lower_s double,
    lower_low_s double,
    lower_high_s double,
    higher_s double,
    higher_low_s double,
    higher_high_s double,
    gears integer,
    unneeded text,
    alike double,
    shift_price double
);
comment on table replays is 'rides on other drivetrains; one row a vehicle, drivetrain, policy and assumption';
comment on column replays.vehicle is 'vehicle whose rides are replayed [name]';
comment on column replays.drivetrain is 'drivetrain they are replayed on, null for a ridden one that the campaign does not publish [name]';
comment on column replays.policy is 'as ridden, looking ahead (least discomfort and shifts of all ways to shift, the road known) or by habit (as this rider shifts) [word]';
comment on column replays.assumption is 'speed as ridden, or effort as ridden: what stays as it was [word]';
comment on column replays.rides is 'rides in which the crank drove [count]';
comment on column replays.low_rpm is 'lower edge of the comfortable cadences [rpm]';
comment on column replays.high_rpm is 'upper edge of the comfortable cadences [rpm]';
comment on column replays.seconds is 'time in which the crank drove [s]';
comment on column replays.distance_m is 'way of these rides, coasting included [m]';
comment on column replays.moving_s is 'time in which the vehicle moved [s]';
comment on column replays.below is 'share of the driven time below low_rpm [1]';
comment on column replays.below_low is 'lower end of the 95 % interval of that over rides, null for one ride [1]';
comment on column replays.below_high is 'upper end of the 95 % interval of that over rides, null for one ride [1]';
comment on column replays.above is 'share of the driven time above high_rpm [1]';
comment on column replays.above_low is 'lower end of the 95 % interval of that over rides, null for one ride [1]';
comment on column replays.above_high is 'upper end of the 95 % interval of that over rides, null for one ride [1]';
comment on column replays.outside is 'share of the driven time outside the comfortable cadences [1]';
comment on column replays.outside_low is 'lower end of the 95 % interval of that over rides, null for one ride [1]';
comment on column replays.outside_high is 'upper end of the 95 % interval of that over rides, null for one ride [1]';
comment on column replays.spread is 'standard deviation of ln(cadence) over the driven time [1]';
comment on column replays.spread_low is 'lower end of the 95 % interval of that over rides, null for one ride [1]';
comment on column replays.spread_high is 'upper end of the 95 % interval of that over rides, null for one ride [1]';
comment on column replays.shifts_per_km is 'shifts over a kilometre of the way [1/km]';
comment on column replays.shifts_per_km_low is 'lower end of the 95 % interval of that over rides, null for one ride [1/km]';
comment on column replays.shifts_per_km_high is 'upper end of the 95 % interval of that over rides, null for one ride [1/km]';
comment on column replays.bottom_s is 'time below low_rpm in the lowest gear: none lower was left [s]';
comment on column replays.bottom_low_s is 'lower end of the 95 % interval of that over rides, null for one ride [s]';
comment on column replays.bottom_high_s is 'upper end of the 95 % interval of that over rides, null for one ride [s]';
comment on column replays.top_s is 'time above high_rpm in the highest gear: none higher was left [s]';
comment on column replays.top_low_s is 'lower end of the 95 % interval of that over rides, null for one ride [s]';
comment on column replays.top_high_s is 'upper end of the 95 % interval of that over rides, null for one ride [s]';
comment on column replays.lower_s is 'time in gears 5 % and more below all gears of the ridden drivetrain [s]';
comment on column replays.lower_low_s is 'lower end of the 95 % interval of that over rides, null for one ride [s]';
comment on column replays.lower_high_s is 'upper end of the 95 % interval of that over rides, null for one ride [s]';
comment on column replays.higher_s is 'time in gears 5 % and more above all gears of the ridden drivetrain [s]';
comment on column replays.higher_low_s is 'lower end of the 95 % interval of that over rides, null for one ride [s]';
comment on column replays.higher_high_s is 'upper end of the 95 % interval of that over rides, null for one ride [s]';
comment on column replays.gears is 'gears that the drivetrain has, null where stepless [count]';
comment on column replays.unneeded is 'numbers of the gears driven for less than 10 s in all, null where stepless [list]';
comment on column replays.alike is 'share of the driving that is spent in the same gears as was ridden, over all rides, gears less than 5 % apart as one; null on another drivetrain [1]';
comment on column replays.shift_price is 'price of a shift that the ridden drivetrain would have been shifted as often by, in seconds at an edge of the comfortable cadences; null unless looking ahead [s]';
