-- told_on: one row, the day of the last run, which all that depends on the day is told for.
create table told_on (day date not null);
comment on table told_on is 'the day of the last run; one row';
comment on column told_on.day is 'that day, UTC [date]';
