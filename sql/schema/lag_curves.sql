-- lag_curves: one row a ride, speed channel and lag that was tried.
create table lag_curves (
    ride text not null,
    channel text not null,
    lag_s double not null,
    sharpness double not null
);
comment on table lag_curves is 'how sharply developments cluster under each lag that was tried; one row a measured ride, channel and lag';
comment on column lag_curves.ride is 'ride [hexadecimal]';
comment on column lag_curves.channel is 'speed channel [word]';
comment on column lag_curves.lag_s is 'by how much the speed is taken to trail the cadence [s]';
comment on column lag_curves.sharpness is 'mean leave-one-out log density of ln(development), higher is sharper [1]';
