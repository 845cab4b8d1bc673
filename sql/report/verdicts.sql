-- verdicts: one row a claim and vehicle, as judged, with what was claimed; fails first.
select
    claims.claim,
    verdicts.vehicle,
    claims.drivetrain,
    claims.quantity,
    claims.gear,
    claims.which,
    claims.at_cadence_rpm,
    claims.printed,
    claims.value,
    claims.tolerance,
    claims.bound,
    claims.source,
    verdicts.verdict,
    verdicts.measured,
    verdicts.measured_low,
    verdicts.measured_high,
    verdicts.reason
from verdicts
inner join (select distinct on (claim) * from claims) as claims on verdicts.claim = claims.claim
order by
    list_position(['fails', 'undecided', 'holds', 'untestable'], verdicts.verdict),
    length(claims.claim),
    claims.claim,
    verdicts.vehicle
