-- outside_comfort: one row a vehicle, side and reason, how long its rider turned too slowly or fast.
--
-- At the same speed another gear would have asked cadence × ratio engaged / ratio of the other; on a
-- stepless drivetrain developments do the same.
-- none chosen: some gear or ratio would have made the cadence comfortable. no gear left: even the
-- last one of that side would not (spun out at the top, over-geared at the bottom). step too wide:
-- what can be had lies on either side of comfort, and nothing in it.
create view outside_comfort as
with ridden as (
    select
        recorded_rides.vehicle,
        inferred_vehicles.stepless,
        ridden_cadences.cadence_rpm,
        coalesce(engaged.ratio, ridden_cadences.development_m) as engaged,
        sum(ridden_cadences.seconds) as seconds
    from ridden_cadences
    inner join recorded_rides using (ride)
    left join inferred_vehicles on recorded_rides.vehicle = inferred_vehicles.vehicle
    left join all_gears as engaged
        on recorded_rides.vehicle = engaged.vehicle and ridden_cadences.gear = engaged.gear
    where
        engaged.ratio is not null
        or (inferred_vehicles.stepless and ridden_cadences.development_m is not null)
    group by all
),

beside as (
    select
        ridden.vehicle,
        coalesce(ridden.stepless, false) as stepless,
        ridden.cadence_rpm,
        ridden.seconds,
        ridden.cadence_rpm * ridden.engaged as pace,
        comfortable_cadence.low_rpm,
        comfortable_cadence.high_rpm,
        can.lowest,
        can.highest,
        can.spans
    from ridden
    inner join comfortable_cadence
        on ridden.vehicle = comfortable_cadence.vehicle and comfortable_cadence.low_rpm is not null
    inner join (
        select
            vehicle,
            min(low) as lowest,
            max(high) as highest,
            list({'low': low, 'high': high}) as spans
        from all_spans
        group by vehicle
    ) as can
        on ridden.vehicle = can.vehicle
),

judged as (
    select
        vehicle,
        stepless,
        seconds,
        case when cadence_rpm < low_rpm then 'below' when cadence_rpm > high_rpm then 'above' end
        as side,
        -- Too slow wants a lower gear, too fast a higher one.
        case
            when pace / lowest < low_rpm or pace / highest > high_rpm then 'no gear left'
            when
                len(
                    list_filter(
                        spans,
                        lambda span: pace / span.high <= high_rpm and pace / span.low >= low_rpm
                    )
                ) > 0
                then 'none chosen'
            else 'step too wide'
        end as why
    from beside
),

totals as (
    select vehicle, any_value(stepless) as stepless, sum(seconds) as seconds
    from judged
    group by vehicle
)

select
    totals.vehicle,
    sides.side,
    reasons.why,
    coalesce(sum(judged.seconds), 0) as seconds,
    coalesce(sum(judged.seconds), 0) / totals.seconds as share,
    totals.stepless
from totals
cross join (values ('below'), ('above')) as sides (side)
cross join (values ('no gear left'), ('none chosen'), ('step too wide')) as reasons (why)
left join judged
    on totals.vehicle = judged.vehicle and sides.side = judged.side and reasons.why = judged.why
group by totals.vehicle, sides.side, reasons.why, totals.seconds, totals.stepless
order by totals.vehicle, sides.side desc, reasons.why;

comment on view outside_comfort is 'time outside the comfortable cadence, and why; one row a vehicle, side and reason; none where gears (or, stepless, developments) or comfort are not known';
comment on column outside_comfort.vehicle is 'vehicle [name]';
comment on column outside_comfort.side is 'below or above the comfortable cadence [word]';
comment on column outside_comfort.why is 'no gear left (stepless: the range ended, as published, else as ridden), none chosen (another would have been comfortable) or step too wide [word]';
comment on column outside_comfort.seconds is 'time that the crank drove in such a cadence [s]';
comment on column outside_comfort.share is 'of the time that the crank drove in a gear, or at a known development where stepless [1]';
comment on column outside_comfort.stepless is 'whether the vehicle was ridden stepless [true/false]';
