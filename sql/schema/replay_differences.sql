-- replay_differences: one row a vehicle, two drivetrains, policy, assumption and quantity.
create table replay_differences (
    vehicle text not null,
    drivetrain text,
    versus text,
    policy text not null,
    assumption text not null,
    quantity text not null,
    difference double,
    difference_low double,
    difference_high double
);
comment on table replay_differences is 'by how much replays differ; one row a vehicle, two drivetrains, policy, assumption and quantity';
comment on column replay_differences.vehicle is 'vehicle whose rides are replayed [name]';
comment on column replay_differences.drivetrain is 'drivetrain [name]';
comment on column replay_differences.versus is 'drivetrain it is held against, null for a ridden one that the campaign does not publish [name]';
comment on column replay_differences.policy is 'looking ahead or by habit, on both [word]';
comment on column replay_differences.assumption is 'speed as ridden, or effort as ridden: what stays as it was [word]';
comment on column replay_differences.quantity is 'column of replays that is compared: outside, below, above, spread, shifts_per_km or moving_s [word]';
comment on column replay_differences.difference is 'its value on drivetrain minus that on versus [unit of the quantity]';
comment on column replay_differences.difference_low is 'lower end of the 95 % interval over rides, what they have in common left out; null for one ride [unit of the quantity]';
comment on column replay_differences.difference_high is 'upper end of the 95 % interval over rides, what they have in common left out; null for one ride [unit of the quantity]';
