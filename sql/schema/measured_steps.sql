-- measured_steps: one row a step between neighbours of the ladder that were both measured.
create table measured_steps (
    vehicle text not null,
    gear integer not null,
    below integer not null,
    step double not null,
    step_low double not null,
    step_high double not null,
    joint_low double not null,
    joint_high double not null,
    published_step double
);
comment on table measured_steps is 'the steps of the measured ladders; one row a vehicle and gear whose neighbour below was measured, too';
comment on column measured_steps.vehicle is 'name of the vehicle [name]';
comment on column measured_steps.gear is 'the upper gear of the two [count]';
comment on column measured_steps.below is 'the gear that it steps from, its neighbour on the ladder [count]';
comment on column measured_steps.step is 'measured ratio over the one below, minus 1 [1]';
comment on column measured_steps.step_low is 'lower end of its 95 % interval [1]';
comment on column measured_steps.step_high is 'upper end of its 95 % interval [1]';
comment on column measured_steps.joint_low is 'lower end of the interval that is wide enough for all steps of the vehicle to lie in theirs in 95 % of cases [1]';
comment on column measured_steps.joint_high is 'upper end of that interval [1]';
comment on column measured_steps.published_step is 'step as published, null without a published drivetrain [1]';
