-- schema_version: one row; which layout this store has.
create table schema_version (version integer not null, views text not null);
comment on table schema_version is 'which layout this store has; one row';
comment on column schema_version.version is 'number of the layout of all tables [count]';
comment on column schema_version.views is 'SHA-256 of the views as they were created [hexadecimal]';
