-- numbered_rides: one row a stored ride that has no number yet, in the order they are stored.
--
-- Numbers only ever rise: those above all of ridden_samples are to be laid down there.
select
    ride,
    cast(
        coalesce((select max(number) from numbered_rides), 0) + row_number() over ()
        as integer
    ) as number
from recorded_rides
anti join numbered_rides using (ride)
