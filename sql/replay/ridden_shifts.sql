-- ridden_shifts: one row a shift of the rides $rides, in order.
select
    ride,
    t_s,
    from_gear,
    to_gear > from_gear as upward,
    while_decoupled
from shifts
where ride in (select unnest($rides))
order by ride, t_s
