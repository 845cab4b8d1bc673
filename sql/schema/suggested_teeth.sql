-- suggested_teeth: one row a measured gear of a vehicle without a published drivetrain, where whole
-- teeth explain its ladder clearly better than chance would.
create table suggested_teeth (
    vehicle text not null,
    gear integer not null,
    ring integer,
    chainring integer,
    sprocket integer,
    residual double,
    ring_ratio double not null,
    by_chance double not null
);
comment on table suggested_teeth is 'chainrings and sprockets that would explain a ladder that nobody published; one row a vehicle and gear';
comment on column suggested_teeth.vehicle is 'name of the vehicle [name]';
comment on column suggested_teeth.gear is 'number of the gear, 1 = lowest ratio [count]';
comment on column suggested_teeth.ring is 'chainring, 1 = the smaller or only one, null where the gear fits no teeth [count]';
comment on column suggested_teeth.chainring is 'its teeth if the stated rollout is right, null without one: rides tell only rollout times teeth [teeth]';
comment on column suggested_teeth.sprocket is 'teeth of the sprocket, up to a factor that all share, null where the gear fits none [teeth]';
comment on column suggested_teeth.residual is 'measured development over that of the teeth, minus 1 [1]';
comment on column suggested_teeth.ring_ratio is 'teeth of the larger chainring over those of the smaller, 1 where there is one [1]';
comment on column suggested_teeth.by_chance is 'at most this share of random ladders between the same ends fits whole teeth as well; the same for all gears of a vehicle [1]';
