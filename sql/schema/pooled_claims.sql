-- pooled_claims: one row a claim, all vehicles with its drivetrain taken together.
create table pooled_claims (
    claim text not null,
    drivetrain text not null,
    vehicles integer not null,
    left_out integer not null,
    measured double,
    measured_low double,
    measured_high double,
    spread double,
    q double,
    q_p double,
    odd_vehicle text,
    odd_by double,
    verdict text not null check (verdict in ('holds', 'fails', 'undecided', 'untestable')),
    reason text not null
);
comment on table pooled_claims is 'what all vehicles with one drivetrain say about a claim; one row a claim';
comment on column pooled_claims.claim is 'id of the claim [name]';
comment on column pooled_claims.drivetrain is 'drivetrain it speaks of [name]';
comment on column pooled_claims.vehicles is 'vehicles that the row rests on [count]';
comment on column pooled_claims.left_out is 'vehicles that the claim speaks of and that are not among these, as too little was ridden or it is in doubt [count]';
comment on column pooled_claims.measured is 'random-effects mean over the vehicles (DerSimonian and Laird); of one vehicle as measured; null where vehicles are compared one by one [SI unit of the quantity]';
comment on column pooled_claims.measured_low is 'lower end of its 95 % interval (Hartung and Knapp), with what wheels and meters leave open [SI unit of the quantity]';
comment on column pooled_claims.measured_high is 'upper end of its 95 % interval [SI unit of the quantity]';
comment on column pooled_claims.spread is 'standard deviation between vehicles beyond their own errors, relative; of steps and cadence changes that of the ratio of both gears [1]';
comment on column pooled_claims.q is 'Cochran''s Q: how much the vehicles differ, in their own errors; what wheels and meters leave open granted [1]';
comment on column pooled_claims.q_p is 'how often vehicles that are alike would differ as much or more [1]';
comment on column pooled_claims.odd_vehicle is 'the one of three vehicles or more that departs from the mean of the others, surely at 95 % though each was asked (Bonferroni) [name]';
comment on column pooled_claims.odd_by is 'by how much, relative to the others, as spread is [1]';
comment on column pooled_claims.verdict is 'holds, fails, undecided or untestable, for the drivetrain [word]';
comment on column pooled_claims.reason is 'why, in one sentence, speeds in the units of the campaign [text]';
