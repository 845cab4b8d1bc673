-- verdicts: one row a claim and vehicle; one without a vehicle where none has the drivetrain.
create table verdicts (
    claim text not null,
    vehicle text,
    verdict text not null check (verdict in ('holds', 'fails', 'undecided', 'untestable')),
    measured double,
    measured_low double,
    measured_high double,
    reason text not null
);
comment on table verdicts is 'what rides say about claims; one row a claim and vehicle';
comment on column verdicts.claim is 'id of the claim [name]';
comment on column verdicts.vehicle is 'vehicle it was tested on, null where none has the drivetrain [name]';
comment on column verdicts.verdict is 'holds, fails, undecided or untestable [word]';
comment on column verdicts.measured is 'the claimed quantity as measured [SI unit of the quantity]';
comment on column verdicts.measured_low is 'lower end of its 95 % interval [SI unit of the quantity]';
comment on column verdicts.measured_high is 'upper end of its 95 % interval [SI unit of the quantity]';
comment on column verdicts.reason is 'why, in one sentence, speeds in the units of the campaign [text]';
