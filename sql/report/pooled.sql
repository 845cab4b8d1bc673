-- pooled: one row a claim that several vehicles could tell of, with what was claimed; fails first.
select
    claims.claim,
    claims.drivetrain,
    claims.quantity,
    claims.gear,
    claims.which,
    claims.at_cadence_rpm,
    claims.printed,
    claims.value,
    claims.tolerance,
    claims.bound,
    pooled_claims.verdict,
    pooled_claims.vehicles,
    pooled_claims.left_out,
    pooled_claims.measured,
    pooled_claims.measured_low,
    pooled_claims.measured_high,
    pooled_claims.spread,
    pooled_claims.q_p,
    pooled_claims.odd_vehicle,
    pooled_claims.odd_by,
    pooled_claims.reason
from pooled_claims
inner join (select distinct on (claim) * from claims) as claims
    on pooled_claims.claim = claims.claim
where pooled_claims.vehicles + pooled_claims.left_out > 1
order by
    list_position(['fails', 'undecided', 'holds', 'untestable'], pooled_claims.verdict),
    length(claims.claim),
    claims.claim
