-- The tables of a shop. What others read are the views; the tables behind them may change with the program.
-- depends:

CREATE SCHEMA store;

CREATE TABLE store.recordings (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    machine text NOT NULL,
    name text NOT NULL,
    header bytea NOT NULL,
    -- the month in which it began: it says in which partition its rows are
    month date NOT NULL,
    next bigint NOT NULL DEFAULT 0,
    chain text NOT NULL,
    chained boolean NOT NULL DEFAULT false,
    mono bigint NOT NULL DEFAULT 0,
    began timestamptz,
    ended timestamptz,
    job text NOT NULL,
    grinder text NOT NULL,
    wheel text NOT NULL,
    nominal double precision,
    program text NOT NULL,
    simulated boolean NOT NULL,
    stored_at timestamptz NOT NULL DEFAULT now(),
    -- events when the rows of its job and gauges were worked out
    worked bigint NOT NULL DEFAULT -1,
    UNIQUE (machine, name)
);

CREATE TABLE store.lines (
    month date NOT NULL,
    recording bigint NOT NULL,
    seq bigint NOT NULL,
    line bytea NOT NULL,
    PRIMARY KEY (recording, seq, month)
) PARTITION BY RANGE (month);

CREATE TABLE store.readings (
    month date NOT NULL,
    recording bigint NOT NULL,
    seq bigint NOT NULL,
    at timestamptz NOT NULL,
    t double precision NOT NULL,
    gauge text NOT NULL,
    value double precision NOT NULL,
    unit text NOT NULL,
    digits bigint NOT NULL,
    PRIMARY KEY (recording, seq, month)
) PARTITION BY RANGE (month);

CREATE TABLE store.taken (
    month date NOT NULL,
    recording bigint NOT NULL,
    seq bigint NOT NULL,
    at timestamptz NOT NULL,
    t double precision NOT NULL,
    part text NOT NULL,
    z double precision,
    angle double precision,
    pass bigint NOT NULL,
    value double precision NOT NULL,
    u double precision NOT NULL,
    gauge text NOT NULL,
    readings bigint NOT NULL,
    PRIMARY KEY (recording, seq, month)
) PARTITION BY RANGE (month);

CREATE TABLE store.passes (
    month date NOT NULL,
    recording bigint NOT NULL,
    seq bigint NOT NULL,
    at timestamptz NOT NULL,
    t double precision NOT NULL,
    infeed double precision,
    found boolean NOT NULL,
    PRIMARY KEY (recording, seq, month)
) PARTITION BY RANGE (month);

CREATE TABLE store.stations (
    month date NOT NULL,
    recording bigint NOT NULL,
    seq bigint NOT NULL,
    at timestamptz NOT NULL,
    t double precision NOT NULL,
    part text NOT NULL,
    z double precision NOT NULL,
    angle double precision NOT NULL,
    PRIMARY KEY (recording, seq, month)
) PARTITION BY RANGE (month);

CREATE TABLE store.verdicts (
    month date NOT NULL,
    recording bigint NOT NULL,
    seq bigint NOT NULL,
    at timestamptz NOT NULL,
    t double precision NOT NULL,
    what text NOT NULL,
    pass bigint NOT NULL,
    gauge text NOT NULL,
    size double precision,
    removed double precision,
    to_come double precision,
    next_removal double precision,
    p_below double precision,
    predicted double precision,
    u_predicted double precision,
    text text NOT NULL,
    PRIMARY KEY (recording, seq, month)
) PARTITION BY RANGE (month);

-- Lines that came before those that they follow on; a recording's header may be among what is missing.
CREATE TABLE store.waiting (
    machine text NOT NULL,
    name text NOT NULL,
    seq bigint NOT NULL,
    line bytea NOT NULL,
    PRIMARY KEY (machine, name, seq)
);

-- What did not belong where it came: forged, changed, or not to be read.
CREATE TABLE store.refused (
    machine text NOT NULL,
    name text NOT NULL,
    seq bigint NOT NULL,
    why text NOT NULL,
    line bytea NOT NULL,
    hash bytea NOT NULL GENERATED ALWAYS AS (sha256(line)) STORED,
    came timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (machine, name, seq, hash)
);

-- What a recording shows as a whole, worked out when it has come to rest.
CREATE TABLE store.jobs (
    recording bigint PRIMARY KEY REFERENCES store.recordings (id) ON DELETE CASCADE,
    events bigint NOT NULL,
    passes bigint NOT NULL,
    verdict text NOT NULL,
    size double precision,
    u_size double precision,
    share double precision,
    u_share double precision,
    gain double precision,
    u_gain double precision,
    scatter double precision,
    growth double precision,
    fresh_passes bigint,
    glazed boolean,
    bite_loss double precision
);

CREATE TABLE store.gauges (
    recording bigint NOT NULL REFERENCES store.recordings (id) ON DELETE CASCADE,
    gauge text NOT NULL,
    measures text NOT NULL,
    readings bigint NOT NULL,
    garbled bigint NOT NULL,
    downs bigint NOT NULL,
    correction double precision,
    u_correction double precision,
    PRIMARY KEY (recording, gauge)
);

CREATE INDEX recordings_by_time ON store.recordings (began DESC);
CREATE INDEX recordings_by_machine ON store.recordings (machine, began DESC);
CREATE INDEX recordings_by_job ON store.recordings (job, began DESC);
CREATE INDEX recordings_by_wheel ON store.recordings (wheel, began DESC);
CREATE INDEX recordings_to_work ON store.recordings (stored_at) WHERE worked < next;
CREATE INDEX gauges_by_name ON store.gauges (gauge, recording);

CREATE EXTENSION IF NOT EXISTS pg_trgm;
CREATE INDEX recordings_by_word ON store.recordings USING gin (job gin_trgm_ops);

CREATE VIEW recordings AS
    SELECT machine, name AS recording, job, grinder, wheel, nominal, simulated, began, ended,
        next AS events, program FROM store.recordings;
CREATE VIEW readings AS
    SELECT r.machine, r.name AS recording, x.seq, x.at, x.t, x.gauge, x.value, x.unit, x.digits
    FROM store.readings x JOIN store.recordings r ON r.id = x.recording AND r.month = x.month;
CREATE VIEW taken AS
    SELECT r.machine, r.name AS recording, x.seq, x.at, x.t, x.part, x.z, x.angle, x.pass, x.value, x.u,
        x.gauge, x.readings
    FROM store.taken x JOIN store.recordings r ON r.id = x.recording AND r.month = x.month;
CREATE VIEW passes AS
    SELECT r.machine, r.name AS recording, x.seq, x.at, x.t, x.infeed, x.found
    FROM store.passes x JOIN store.recordings r ON r.id = x.recording AND r.month = x.month;
CREATE VIEW stations AS
    SELECT r.machine, r.name AS recording, x.seq, x.at, x.t, x.part, x.z, x.angle
    FROM store.stations x JOIN store.recordings r ON r.id = x.recording AND r.month = x.month;
CREATE VIEW verdicts AS
    SELECT r.machine, r.name AS recording, x.seq, x.at, x.t, x.what, x.pass, x.gauge, x.size, x.removed,
        x.to_come, x.next_removal, x.p_below, x.predicted, x.u_predicted, x.text
    FROM store.verdicts x JOIN store.recordings r ON r.id = x.recording AND r.month = x.month;
CREATE VIEW jobs AS
    SELECT r.machine, r.name AS recording, r.job, r.grinder, r.wheel, r.nominal, r.simulated, r.began,
        r.ended, j.events, j.passes, j.verdict, j.size, j.u_size, j.share, j.u_share, j.gain, j.u_gain,
        j.scatter, j.growth, j.fresh_passes, j.glazed, j.bite_loss
    FROM store.jobs j JOIN store.recordings r ON r.id = j.recording;
CREATE VIEW gauges AS
    SELECT r.machine, r.name AS recording, r.began, g.gauge, g.measures, g.readings, g.garbled, g.downs,
        g.correction, g.u_correction
    FROM store.gauges g JOIN store.recordings r ON r.id = g.recording;
