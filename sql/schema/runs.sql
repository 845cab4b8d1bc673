-- runs: one row a run, written as it begins and completed as it ends.
create table runs (
    run integer primary key,
    started_at timestamptz not null,
    version text not null,
    pipeline text not null,
    workers integer not null,
    read integer,
    unchanged integer,
    duplicates integer,
    set_aside integer,
    measured integer,
    kept integer,
    failed integer,
    exit_code integer,
    seconds double
);
comment on table runs is 'what each run over this store came to; one row a run';
comment on column runs.run is 'number of the run, from 1 [count]';
comment on column runs.started_at is 'when the run began [UTC]';
comment on column runs.version is 'ridelab that ran [version]';
comment on column runs.pipeline is 'pipeline that was run [name]';
comment on column runs.workers is 'processes that it might work in [count]';
comment on column runs.read is 'files read as rides, null where the run did not come to its end [count]';
comment on column runs.unchanged is 'files whose ride was stored before, null likewise [count]';
comment on column runs.duplicates is 'files with the content, or the time, of another, null likewise [count]';
comment on column runs.set_aside is 'files that cannot be used, now or known from before, null likewise [count]';
comment on column runs.measured is 'vehicles measured, null likewise [count]';
comment on column runs.kept is 'vehicles of which nothing had changed, null likewise [count]';
comment on column runs.failed is 'vehicles, queries and the like that went wrong, null likewise [count]';
comment on column runs.exit_code is 'how it ended: 0 done, 1 failed, 3 something was set aside, 130 interrupted; null where it was cut off or is under way [code]';
comment on column runs.seconds is 'how long it took, null likewise [s]';
