-- claims: one row a published statement.
create table claims (
    claim text not null,
    drivetrain text not null,
    vehicle text,
    quantity text not null,
    value double,
    tolerance double,
    source text not null,
    gear text,
    which text,
    at_cadence_rpm double,
    printed text not null,
    bound text not null default 'about' check (bound in ('about', 'at least', 'at most')),
    within double
);
comment on table claims is 'published statements to test; one row a claim';
comment on column claims.claim is 'id of the claim [name]';
comment on column claims.drivetrain is 'drivetrain it speaks of [name]';
comment on column claims.vehicle is 'the one vehicle it speaks of, null for all with the drivetrain [name]';
comment on column claims.quantity is 'what is claimed: range, gears, overlap, ratio, step, evenness, cadence change, speed, development, rollout, efficiency, or what rides cannot show: noise, durability, weight [word]';
comment on column claims.value is 'the value claimed, a range as a factor, a cadence change in rpm; null for what rides cannot show [SI unit of the quantity]';
comment on column claims.tolerance is 'allowed departure, relative to the value; null for what rides cannot show [1]';
comment on column claims.source is 'where it was published [text]';
comment on column claims.gear is 'gear it speaks of: a number, lowest or highest; null for an efficiency is the mean of all gears ridden [word]';
comment on column claims.which is 'mean, largest, smallest or every step [word]';
comment on column claims.at_cadence_rpm is 'cadence that a claimed speed is given for, or in the higher gear of a cadence change [rpm]';
comment on column claims.printed is 'the value as it was printed [text]';
comment on column claims.bound is 'whether the value is about what is claimed, or at least or at most that [word]';
comment on column claims.within is 'combinations closer than this are one gear, of gears and overlap; null for the campaign''s own [1]';
