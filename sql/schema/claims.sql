-- claims: one row a published statement that rides can test.
create table claims (
    claim text not null,
    drivetrain text not null,
    vehicle text,
    quantity text not null,
    value double not null,
    tolerance double not null,
    source text not null,
    gear text,
    which text,
    at_cadence_rpm double,
    printed text not null
);
comment on table claims is 'published statements to test; one row a claim';
comment on column claims.claim is 'id of the claim [name]';
comment on column claims.drivetrain is 'drivetrain it speaks of [name]';
comment on column claims.vehicle is 'the one vehicle it speaks of, null for all with the drivetrain [name]';
comment on column claims.quantity is 'range, gears, ratio, step, speed or development [word]';
comment on column claims.value is 'the value claimed, a range as a factor [SI unit of the quantity]';
comment on column claims.tolerance is 'allowed departure, relative to the value [1]';
comment on column claims.source is 'where it was published [text]';
comment on column claims.gear is 'gear it speaks of: a number, lowest or highest [word]';
comment on column claims.which is 'mean, largest or smallest step [word]';
comment on column claims.at_cadence_rpm is 'cadence that a claimed speed is given for [rpm]';
comment on column claims.printed is 'the value as it was printed [text]';
