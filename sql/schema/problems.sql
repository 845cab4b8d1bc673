-- problems: one row a thing that a person should know about an input; none is told twice.
create table problems (
    path text not null,
    stage text not null,
    severity text not null check (severity in ('note', 'warning', 'error')),
    message text not null,
    vehicle text
);
comment on table problems is 'what was odd, lost or set aside; one row a path, stage and message';
comment on column problems.path is 'file or glob relative to the campaign''s folder, or the vehicle concerned [path]';
comment on column problems.stage is 'stage of the pipeline that noticed it [word]';
comment on column problems.severity is 'note: nothing lost; warning: something lost or doubtful; error: set aside [word]';
comment on column problems.message is 'what was found [text]';
comment on column problems.vehicle is 'vehicle that was being measured, null for other stages [name]';
