-- evidence: one row a ride, how much of it can be measured by.
create view evidence as
select
    ride,
    count(distinct floor(t_s)) filter (
        where cadence_rpm > 0 and (speed_mps > 0 or distance_m is not null)
    ) as seconds
from recorded_samples
group by ride
order by ride;

comment on view evidence is 'how much of each ride can be measured by; one row a ride with samples';
comment on column evidence.ride is 'SHA-256 of the file''s content, which is what a ride is known by [hexadecimal]';
comment on column evidence.seconds is 'whole seconds with a turning crank and a speed or distance [s]';
