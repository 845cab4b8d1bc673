-- stated_services: one row a service that was done, as the campaign states it.
create table stated_services (
    vehicle text not null,
    serviced_on date not null,
    odometer_km double
);
comment on table stated_services is 'services that were done, as the campaign states them; one row each';
comment on column stated_services.vehicle is 'name of the vehicle [name]';
comment on column stated_services.serviced_on is 'day it was done [date]';
comment on column stated_services.odometer_km is 'what the odometer told then, null where not stated [km]';
