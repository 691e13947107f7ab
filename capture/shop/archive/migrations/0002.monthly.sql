-- The figures of jobs by month, and the months that have to be worked out anew.
-- depends: 0001.recordings

CREATE TABLE store.monthly (
    what text NOT NULL,
    machine text NOT NULL,
    -- the wheel or the gauge; empty where the figure is the machine's alone
    thing text NOT NULL,
    month date NOT NULL,
    -- the mean day of its jobs, since 1970
    day double precision NOT NULL,
    value double precision NOT NULL,
    jobs bigint NOT NULL,
    PRIMARY KEY (what, machine, thing, month)
);
CREATE INDEX monthly_by_month ON store.monthly (month);

CREATE TABLE store.months_due (
    month date PRIMARY KEY,
    since timestamptz NOT NULL DEFAULT now()
);
-- Of jobs that are there already nothing is put together yet.
INSERT INTO store.months_due (month, since)
    SELECT DISTINCT date_trunc('month', began AT TIME ZONE 'UTC')::date, timestamptz '-infinity'
    FROM store.recordings WHERE began IS NOT NULL AND worked >= 0;
