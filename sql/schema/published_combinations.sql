-- published_combinations: one row a drivetrain and combination of its stages' settings.
create table published_combinations (
    drivetrain text not null,
    combination text not null,
    front text not null,
    gear integer not null,
    ratio double not null
);
comment on table published_combinations is 'what a drivetrain can be set to, as published; one row a drivetrain and combination of settings, none where stepless';
comment on column published_combinations.drivetrain is 'name of the drivetrain [name]';
comment on column published_combinations.combination is 'settings of all shifted stages, crank first [name]';
comment on column published_combinations.front is 'setting of what is shifted first from the crank on [name]';
comment on column published_combinations.gear is 'gear that it is, shared with other combinations within merge_within [count]';
comment on column published_combinations.ratio is 'its own ratio, wheel turns for one crank turn [1]';
