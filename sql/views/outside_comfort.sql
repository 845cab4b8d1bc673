-- outside_comfort: one row a vehicle, side and reason, how long its rider turned too slowly or fast.
--
-- At the same speed another gear would have asked cadence × ratio engaged / ratio of the other.
-- none chosen: some gear would have made the cadence comfortable. no gear left: even the last gear
-- of that side would not (spun out at the top, over-geared at the bottom). step too wide: the next
-- gears lie on either side of comfort, and none in it.
create view outside_comfort as
with ridden as (
    select
        recorded_rides.vehicle,
        ridden_cadences.gear,
        ridden_cadences.cadence_rpm,
        sum(ridden_cadences.seconds) as seconds
    from ridden_cadences
    inner join recorded_rides using (ride)
    where ridden_cadences.gear is not null
    group by all
),

beside as (
    select
        ridden.*,
        comfortable_cadence.low_rpm,
        comfortable_cadence.high_rpm,
        engaged.ratio,
        ladder.lowest_ratio,
        ladder.highest_ratio,
        ladder.ratios
    from ridden
    inner join comfortable_cadence
        on ridden.vehicle = comfortable_cadence.vehicle and comfortable_cadence.low_rpm is not null
    inner join all_gears as engaged
        on ridden.vehicle = engaged.vehicle and ridden.gear = engaged.gear
    inner join (
        select
            vehicle,
            min(ratio) as lowest_ratio,
            max(ratio) as highest_ratio,
            list(ratio) as ratios
        from all_gears
        group by vehicle
    ) as ladder
        on ridden.vehicle = ladder.vehicle
),

judged as (
    select
        vehicle,
        seconds,
        case when cadence_rpm < low_rpm then 'below' when cadence_rpm > high_rpm then 'above' end
        as side,
        -- Too slow wants a lower gear, too fast a higher one.
        case
            when
                cadence_rpm * ratio / lowest_ratio < low_rpm
                or cadence_rpm * ratio / highest_ratio > high_rpm
                then 'no gear left'
            when
                len(
                    list_filter(
                        ratios,
                        lambda other: cadence_rpm * ratio / other between low_rpm and high_rpm
                    )
                ) > 0
                then 'none chosen'
            else 'step too wide'
        end as why
    from beside
),

totals as (
    select vehicle, sum(seconds) as seconds from judged group by vehicle
)

select
    totals.vehicle,
    sides.side,
    reasons.why,
    coalesce(sum(judged.seconds), 0) as seconds,
    coalesce(sum(judged.seconds), 0) / totals.seconds as share
from totals
cross join (values ('below'), ('above')) as sides (side)
cross join (values ('no gear left'), ('none chosen'), ('step too wide')) as reasons (why)
left join judged
    on totals.vehicle = judged.vehicle and sides.side = judged.side and reasons.why = judged.why
group by totals.vehicle, sides.side, reasons.why, totals.seconds
order by totals.vehicle, sides.side desc, reasons.why;

comment on view outside_comfort is 'time outside the comfortable cadence, and why; one row a vehicle, side and reason; none where gears or comfort are not known';
comment on column outside_comfort.vehicle is 'vehicle [name]';
comment on column outside_comfort.side is 'below or above the comfortable cadence [word]';
comment on column outside_comfort.why is 'no gear left, none chosen (another would have been comfortable) or step too wide [word]';
comment on column outside_comfort.seconds is 'time that the crank drove in such a cadence [s]';
comment on column outside_comfort.share is 'of the time that the crank drove in a gear [1]';
