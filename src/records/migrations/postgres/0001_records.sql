create table student (
    handle text not null primary key,
    revision bigint not null,
    record text not null
);
create table health (
    handle text not null primary key references student on update cascade on delete cascade,
    limits text not null
);
create table lesson (
    handle text not null references student on update cascade on delete cascade,
    number bigint not null,
    day text not null,
    record text not null,
    primary key (handle, number)
);
create table outcome (
    handle text not null references student on update cascade on delete cascade,
    number bigint not null,
    drill text not null,
    result text not null,
    record text not null,
    primary key (handle, number)
);
create index outcome_by_drill on outcome (drill);
create table called (
    handle text not null references student on update cascade on delete cascade,
    number bigint not null,
    finding text not null,
    start text not null,
    changed double precision,
    primary key (handle, number, finding)
);
create index called_by_finding on called (finding);
create table setting (
    name text not null primary key,
    value text not null
);
create table backup (
    file text not null primary key,
    day text not null
);
create table journal (
    number bigint generated always as identity primary key,
    day text not null,
    coach text not null,
    what text not null,
    handle text not null,
    undoes bigint,
    earlier text not null,
    later text not null
);
create index journal_by_handle on journal (handle);
