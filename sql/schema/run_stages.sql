-- run_stages: one row a run and stage, as it ended.
create table run_stages (
    run integer not null,
    place integer not null,
    stage text not null,
    seconds double not null,
    primary key (run, place)
);
comment on table run_stages is 'how long each stage of each run took; one row a run and place';
comment on column run_stages.run is 'number of the run [count]';
comment on column run_stages.place is 'place of the stage in its pipeline, from 1 [count]';
comment on column run_stages.stage is 'stage of the package, or relation that its query filled [name]';
comment on column run_stages.seconds is 'how long it took [s]';
