-- published_spans: one row a stepless drivetrain and span of ratios that it can take.
create table published_spans (
    drivetrain text not null,
    lowest_ratio double not null,
    highest_ratio double not null
);
comment on table published_spans is 'what a stepless drivetrain can be set to, as published; one row a drivetrain and unbroken span of ratios';
comment on column published_spans.drivetrain is 'name of the drivetrain [name]';
comment on column published_spans.lowest_ratio is 'least ratio of the span, wheel turns for one crank turn [1]';
comment on column published_spans.highest_ratio is 'greatest ratio of the span [1]';
