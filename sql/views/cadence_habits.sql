-- cadence_habits: one row a vehicle, the middle of its rider's cadences and how far they spread.
create view cadence_habits as
with driven as (
    select
        recorded_rides.vehicle,
        cadence_rpm,
        sum(seconds) as seconds
    from ridden_cadences
    inner join recorded_rides using (ride)
    where recorded_rides.vehicle is not null
    group by all
),

-- Share of the time at this cadence or below.
ranked as (
    select
        *,
        sum(seconds) over slower / sum(seconds) over (partition by vehicle) as share_until
    from driven
    window slower as (
        partition by vehicle order by cadence_rpm rows unbounded preceding
    )
)

select
    vehicle,
    sum(seconds) as seconds,
    sum(cadence_rpm * seconds) / sum(seconds) as mean_rpm,
    min(cadence_rpm) filter (where share_until >= 0.25) as lower_quartile_rpm,
    min(cadence_rpm) filter (where share_until >= 0.5) as median_rpm,
    min(cadence_rpm) filter (where share_until >= 0.75) as upper_quartile_rpm
from ranked
group by vehicle
order by vehicle;

comment on view cadence_habits is 'usual cadences; one row a vehicle whose crank drove';
comment on column cadence_habits.vehicle is 'vehicle [name]';
comment on column cadence_habits.seconds is 'time that the crank drove the wheel [s]';
comment on column cadence_habits.mean_rpm is 'mean cadence in that time [rpm]';
comment on column cadence_habits.lower_quartile_rpm is 'cadence that a quarter of that time does not exceed, in whole turns [rpm]';
comment on column cadence_habits.median_rpm is 'cadence that half of that time does not exceed, in whole turns [rpm]';
comment on column cadence_habits.upper_quartile_rpm is 'cadence that three quarters of that time do not exceed, in whole turns [rpm]';
