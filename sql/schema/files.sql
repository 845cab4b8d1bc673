-- files: one row a file that the campaign named in the last run, or a member of an archive among them.
create table files (
    path text primary key,
    size_bytes bigint,
    mtime_ns bigint,
    sha256 text,
    status text not null check (status in ('ride', 'set aside', 'duplicate', 'archive')),
    vehicle text,
    reader text not null,
    archive text
);
comment on table files is 'files the campaign named, and members of archives, as the last run saw them; one row each';
comment on column files.path is 'where the file is, relative to the campaign''s folder where inside it; on into an archive [path]';
comment on column files.size_bytes is 'size of the file, unpacked for a member; null where it could not be opened [byte]';
comment on column files.mtime_ns is 'when the file, or the archive it is in, was last changed, since 1970 in UTC [ns]';
comment on column files.sha256 is 'of the file''s content, null where it could not be opened [hexadecimal]';
comment on column files.status is 'ride, set aside, duplicate (of the content, or time, of another) or archive: what was made of the file [word]';
comment on column files.vehicle is 'vehicle whose globs name the file, null where only those of the campaign do [name]';
comment on column files.reader is 'version of the readers that looked into the file; where loggers may have written it, their hash too [version]';
comment on column files.archive is 'path of the archive it is a member of, null for a file of its own [path]';
