-- A store as version 1 made it in SQLite: written down from such a file. It never changes again.
CREATE TABLE record_events (
    run VARCHAR(80) NOT NULL,
    seq INTEGER NOT NULL,
    event_id VARCHAR(36) NOT NULL,
    body BLOB NOT NULL,
    "before" VARCHAR(64) NOT NULL,
    hash VARCHAR(64) NOT NULL,
    PRIMARY KEY (run, seq),
    UNIQUE (run, event_id)
);
CREATE TABLE record_blobs (
    sha256 VARCHAR(64) NOT NULL,
    content BLOB NOT NULL,
    PRIMARY KEY (sha256)
);
CREATE TABLE record_schema (
    version INTEGER NOT NULL
);
CREATE TABLE web_schema (
    version INTEGER NOT NULL
);
CREATE TABLE web_jobs (
    id VARCHAR(32) NOT NULL,
    name TEXT NOT NULL,
    customer TEXT NOT NULL,
    made_at FLOAT NOT NULL,
    made_by TEXT NOT NULL,
    archived_at FLOAT,
    PRIMARY KEY (id)
);
CREATE TABLE web_accounts (
    id VARCHAR(32) NOT NULL,
    name TEXT NOT NULL,
    login TEXT NOT NULL,
    password TEXT NOT NULL,
    role VARCHAR(40) NOT NULL,
    qualifications TEXT NOT NULL,
    units VARCHAR(2) NOT NULL,
    theme VARCHAR(8) NOT NULL,
    made_at FLOAT NOT NULL,
    made_by TEXT NOT NULL,
    disabled_at FLOAT,
    PRIMARY KEY (id),
    UNIQUE (login)
);
CREATE TABLE web_audit (
    number INTEGER NOT NULL,
    at FLOAT NOT NULL,
    who TEXT NOT NULL,
    account VARCHAR(32) NOT NULL,
    address VARCHAR(64) NOT NULL,
    what VARCHAR(60) NOT NULL,
    subject TEXT NOT NULL,
    detail TEXT NOT NULL,
    PRIMARY KEY (number)
);
CREATE INDEX web_audit_by_what ON web_audit (what, at);
CREATE TABLE web_links (
    token_sha256 VARCHAR(64) NOT NULL,
    purpose VARCHAR(40) NOT NULL,
    subject VARCHAR(80) NOT NULL,
    made_at FLOAT NOT NULL,
    made_by TEXT NOT NULL,
    until FLOAT NOT NULL,
    withdrawn_at FLOAT,
    PRIMARY KEY (token_sha256)
);
CREATE TABLE web_run_pins (
    run VARCHAR(80) NOT NULL,
    login VARCHAR(120) NOT NULL,
    role VARCHAR(40) NOT NULL,
    name TEXT NOT NULL,
    pin TEXT NOT NULL,
    PRIMARY KEY (run, login, role)
);
CREATE TABLE web_revisions (
    job VARCHAR(32) NOT NULL,
    number INTEGER NOT NULL,
    job_text TEXT NOT NULL,
    catalogue_text TEXT,
    table_text TEXT,
    made_at FLOAT NOT NULL,
    made_by TEXT NOT NULL,
    note TEXT NOT NULL,
    PRIMARY KEY (job, number),
    FOREIGN KEY(job) REFERENCES web_jobs (id)
);
CREATE TABLE web_marks (
    job VARCHAR(32) NOT NULL,
    stage VARCHAR(40) NOT NULL,
    revision INTEGER NOT NULL,
    at FLOAT NOT NULL,
    who TEXT NOT NULL,
    note TEXT NOT NULL,
    PRIMARY KEY (job, stage, revision),
    FOREIGN KEY(job) REFERENCES web_jobs (id)
);
CREATE TABLE web_runs (
    run VARCHAR(80) NOT NULL,
    job VARCHAR(32) NOT NULL,
    revision INTEGER NOT NULL,
    at FLOAT NOT NULL,
    PRIMARY KEY (run),
    FOREIGN KEY(job) REFERENCES web_jobs (id)
);
CREATE INDEX ix_web_runs_job ON web_runs (job);
CREATE TABLE web_guests (
    job VARCHAR(32) NOT NULL,
    account VARCHAR(32) NOT NULL,
    PRIMARY KEY (job, account),
    FOREIGN KEY(job) REFERENCES web_jobs (id),
    FOREIGN KEY(account) REFERENCES web_accounts (id)
);
CREATE INDEX ix_web_guests_account ON web_guests (account);
CREATE TABLE web_sessions (
    token_sha256 VARCHAR(64) NOT NULL,
    account VARCHAR(32),
    name TEXT NOT NULL,
    qualifications TEXT NOT NULL,
    units VARCHAR(2) NOT NULL,
    theme VARCHAR(8) NOT NULL,
    made_at FLOAT NOT NULL,
    seen_at FLOAT NOT NULL,
    PRIMARY KEY (token_sha256),
    FOREIGN KEY(account) REFERENCES web_accounts (id)
);
CREATE INDEX ix_web_sessions_account ON web_sessions (account);
CREATE TABLE web_diagnoses (
    id VARCHAR(32) NOT NULL,
    job VARCHAR(32) NOT NULL,
    revision INTEGER NOT NULL,
    at FLOAT NOT NULL,
    who TEXT NOT NULL,
    readings TEXT NOT NULL,
    found TEXT NOT NULL,
    PRIMARY KEY (id),
    FOREIGN KEY(job) REFERENCES web_jobs (id)
);
CREATE INDEX ix_web_diagnoses_job ON web_diagnoses (job);
