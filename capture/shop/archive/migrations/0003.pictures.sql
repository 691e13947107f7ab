-- Pictures that recordings name, and their files, each once by its hash.
-- depends: 0002.monthly

CREATE TABLE store.pictures (
    month date NOT NULL,
    recording bigint NOT NULL,
    seq bigint NOT NULL,
    at timestamptz NOT NULL,
    t double precision NOT NULL,
    file text NOT NULL,
    sha256 text NOT NULL,
    size bigint NOT NULL,
    text text NOT NULL,
    PRIMARY KEY (recording, seq, month)
) PARTITION BY RANGE (month);

-- Months that are there already get their partition now; later ones with their first recording.
DO $$
DECLARE one date;
BEGIN
    FOR one IN SELECT DISTINCT month FROM store.recordings LOOP
        IF one = DATE '0001-01-01' THEN
            CREATE TABLE store.pictures_other PARTITION OF store.pictures DEFAULT;
        ELSE
            EXECUTE format(
                'CREATE TABLE store.%I PARTITION OF store.pictures FOR VALUES FROM (%L) TO (%L)',
                'pictures_' || to_char(one, 'YYYY_MM'), one, (one + interval '1 month')::date);
        END IF;
    END LOOP;
END $$;

-- Lines that are there already and name a picture: so a fact begins, and no text within one can (its quotes are
-- escaped). Control characters in a text, which jsonb does not take, are not looked at.
INSERT INTO store.pictures (month, recording, seq, at, t, file, sha256, size, text)
    SELECT month, recording, seq,
        timestamptz 'epoch' + (j->'at'->>1)::bigint / 1000 * interval '1 microsecond',
        (j->'at'->>0)::bigint / 1e9,
        j->'fact'->>'file', j->'fact'->>'sha256', (j->'fact'->>'size')::bigint,
        coalesce(j->'fact'->>'text', '')
    FROM (
        SELECT month, recording, seq, convert_from(line, 'UTF8')::jsonb AS j FROM store.lines
        WHERE position('"fact":{"kind":"picture"'::bytea IN line) > 0
            AND position('\\u'::bytea IN line) = 0
    ) AS named
    WHERE j->'fact'->>'kind' = 'picture';

CREATE TABLE store.picture_files (
    sha256 text PRIMARY KEY,
    body bytea NOT NULL
);

CREATE VIEW pictures AS
    SELECT r.machine, r.name AS recording, x.seq, x.at, x.t, x.file, x.sha256, x.size, x.text
    FROM store.pictures x JOIN store.recordings r ON r.id = x.recording AND r.month = x.month;
