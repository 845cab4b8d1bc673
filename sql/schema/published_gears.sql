-- published_gears: one row a gear of a published drivetrain; none where it is stepless.
create table published_gears (
    drivetrain text not null,
    gear integer not null,
    label text not null,
    ratio double not null,
    step double,
    ratio_low double not null,
    ratio_high double not null
);
comment on table published_gears is 'the published ladders; one row a drivetrain and gear';
comment on column published_gears.drivetrain is 'name of the drivetrain [name]';
comment on column published_gears.gear is 'number of the gear, 1 = lowest ratio [count]';
comment on column published_gears.label is 'every combination that makes this gear [text]';
comment on column published_gears.ratio is 'wheel turns per crank turn [1]';
comment on column published_gears.step is 'ratio over the gear below, minus 1, null for the lowest [1]';
comment on column published_gears.ratio_low is 'lowest ratio of the combinations that make it [1]';
comment on column published_gears.ratio_high is 'highest ratio of the combinations that make it [1]';
