-- fitted_ladders: one row a vehicle, its ladder as last fitted to samples; lists have one entry a
-- gear, lowest first. Further rides are measured beside those that were.
create table fitted_ladders (
    vehicle text primary key,
    ln_developments double[] not null,
    numbers integer[] not null,
    ln_ratios double[],
    expected double[],
    members double[],
    unridden integer[] not null,
    doubts text[] not null,
    log_prior double not null,
    placement_probability double,
    unexplained_share double,
    counts integer[] not null,
    count_probabilities double[] not null,
    fitted integer not null,
    kept integer not null,
    others text[] not null,
    basis text not null,
    cadence_low_rpm double not null,
    cadence_high_rpm double not null
);
comment on table fitted_ladders is 'ladders as last fitted to samples, for measuring further rides beside them; one row a vehicle with measured gears';
comment on column fitted_ladders.vehicle is 'name of the vehicle [name]';
comment on column fitted_ladders.ln_developments is 'ln(metres per crank turn) of each gear, lowest first [1]';
comment on column fitted_ladders.numbers is 'number of each gear [count]';
comment on column fitted_ladders.ln_ratios is 'ln(ratio) of each gear as published, NaN for one that nobody published; null without a published ladder [1]';
comment on column fitted_ladders.expected is 'ln(metres per crank turn) of each gear where the published ladder was placed; null without one [1]';
comment on column fitted_ladders.members is 'ln of the ratio of each combination over that of its gear, gear by gear, as many for each; null where each gear is one [1]';
comment on column fitted_ladders.unridden is 'which gears only noise had named, the lowest is 0 [index]';
comment on column fitted_ladders.doubts is 'what the rides leave open of where the ladder sits [text]';
comment on column fitted_ladders.log_prior is 'ln of the probability of where it sits, before the rides speak [1]';
comment on column fitted_ladders.placement_probability is 'probability that it sits there [0 to 1]';
comment on column fitted_ladders.unexplained_share is 'share of the steady pedalling that fits no published gear [0 to 1]';
comment on column fitted_ladders.counts is 'numbers of gears that may have been ridden; empty with a published ladder [count]';
comment on column fitted_ladders.count_probabilities is 'probability of each of these [0 to 1]';
comment on column fitted_ladders.fitted is 'rides that it was fitted to [count]';
comment on column fitted_ladders.kept is 'rides that are measured by it, those added since among them [count]';
comment on column fitted_ladders.others is 'rides of the vehicle in which no gear can be named [hexadecimal]';
comment on column fitted_ladders.basis is 'SHA-256 of the method, and of ladder and rollout as stated [hexadecimal]';
comment on column fitted_ladders.cadence_low_rpm is 'cadence that a quarter of their pedalling stays below, NaN where there is none [rpm]';
comment on column fitted_ladders.cadence_high_rpm is 'cadence that a quarter of their pedalling goes beyond [rpm]';
