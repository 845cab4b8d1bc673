-- service: one row a vehicle, what its odometer tells and when it is due for service.
create table service (
    vehicle text primary key,
    told_on date not null,
    odometer_m double,
    serviced_on date,
    counted_from text not null,
    since_service_m double,
    due_at_m double,
    remaining_m double,
    due_on date,
    remaining_days integer,
    metres_per_week double,
    pace text not null,
    expected_on date,
    next_on date,
    next_by text,
    state text not null
);
comment on table service is 'odometer and next service of each vehicle, as of the last run; one row a vehicle';
comment on column service.vehicle is 'name of the vehicle [name]';
comment on column service.told_on is 'day that all of this is told for [date]';
comment on column service.odometer_m is 'last reading stated, and the way ridden since; null where none is stated [m]';
comment on column service.serviced_on is 'day of the last service that is stated, null where none is [date]';
comment on column service.counted_from is 'service, odometer (from zero), first ride, or nothing: where the interval is counted from [word]';
comment on column service.since_service_m is 'way since then, at least: what was not recorded is not in it [m]';
comment on column service.due_at_m is 'odometer at which the next service is due, null without an odometer or an interval [m]';
comment on column service.remaining_m is 'way left until then, negative where overdue [m]';
comment on column service.due_on is 'day on which the next service is due by months, null without such an interval or a start [date]';
comment on column service.remaining_days is 'days left until then, negative where overdue [day]';
comment on column service.metres_per_week is 'way a week over the last eight weeks, or since the first ride where that was later; null below two weeks [m]';
comment on column service.pace is 'steady, uneven, erratic or unknown: how far the weeks agree, and so how far expected_on can be trusted [word]';
comment on column service.expected_on is 'day on which the way is used up at that pace, null where it is not known, or beyond ten years [date]';
comment on column service.next_on is 'the earlier of due_on and expected_on [date]';
comment on column service.next_by is 'months or distance: which of the two comes first [word]';
comment on column service.state is 'overdue, soon (30 days or a tenth of the way left), later, unknown, or no interval [word]';
