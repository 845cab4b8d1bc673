-- gear_losses: one row a vehicle and gear ridden under a power meter at the crank and one at the wheel, and one for the mean of its gears.
create table gear_losses (
    vehicle text not null,
    gear integer,
    loss double,
    loss_low double,
    loss_high double,
    against_mean double,
    against_mean_low double,
    against_mean_high double,
    crank_w double not null,
    wheel_w double not null,
    seconds double not null,
    spells integer not null,
    rides integer not null,
    wheel_over_crank double not null,
    scatter double not null,
    freedom double not null,
    accuracy double not null
);
comment on table gear_losses is 'what is lost between crank and wheel, where both powers were recorded; one row a vehicle and gear, and one for the mean of its gears';
comment on column gear_losses.vehicle is 'name of the vehicle [name]';
comment on column gear_losses.gear is 'gear, 1 = lowest; null for the mean of all that were ridden, each counting once [count]';
comment on column gear_losses.loss is 'share of the power at the crank that does not reach the wheel, 0 at least; null where the meters disagree [1]';
comment on column gear_losses.loss_low is 'lower end of its 95 % interval, all that the meters may be off by added [1]';
comment on column gear_losses.loss_high is 'upper end of that interval [1]';
comment on column gear_losses.against_mean is 'share of the power that is lost beyond the mean of the gears, below 0 where less is; null for one gear alone [1]';
comment on column gear_losses.against_mean_low is 'lower end of its 95 % interval, in which the accuracy of the meters has no part [1]';
comment on column gear_losses.against_mean_high is 'upper end of that interval [1]';
comment on column gear_losses.crank_w is 'mean power at the crank in these spells [W]';
comment on column gear_losses.wheel_w is 'mean power at the wheel in these spells [W]';
comment on column gear_losses.seconds is 'steady pedalling in it under both meters [s]';
comment on column gear_losses.spells is 'unbroken spells of 10 to 60 s that it is measured by [count]';
comment on column gear_losses.rides is 'rides that they are of [count]';
comment on column gear_losses.wheel_over_crank is 'power at the wheel over power at the crank as the meters read it, lag taken out [1]';
comment on column gear_losses.scatter is 'standard error of its logarithm from spells and rides, without the accuracy of the meters [1]';
comment on column gear_losses.freedom is 'degrees of freedom of that standard error [count]';
comment on column gear_losses.accuracy is 'what the two meters may be apart by as stated or assumed, both together, in the logarithm [1]';
