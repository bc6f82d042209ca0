"""The tables of the web application, beside those of the records: jobs with revisions, people, sessions, audit, links.

Times are seconds since 1970 (UTC); what people read of them is made at the edge.

A store is not made from here but by the steps of `table_steps`, so that older ones come to the same: whoever adds a
table or a column here adds its statement to the newest step there. A test holds the two together.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import Column, Float, ForeignKey, Index, Integer, MetaData, String, Table, Text
from sqlalchemy.schema import PrimaryKeyConstraint, UniqueConstraint

METADATA: Final = MetaData()

JOBS: Final = Table(
    "web_jobs",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("name", Text, nullable=False),
    Column("customer", Text, nullable=False),
    Column("made_at", Float, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("archived_at", Float),
)
REVISIONS: Final = Table(
    "web_revisions",
    METADATA,
    Column("job", String(32), ForeignKey("web_jobs.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("job_text", Text, nullable=False),
    Column("catalogue_text", Text),  # none: the demo catalogue
    Column("table_text", Text),  # none: the table made from the unit
    Column("made_at", Float, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("note", Text, nullable=False),
    PrimaryKeyConstraint("job", "number"),
)
MARKS: Final = Table(
    "web_marks",
    METADATA,
    Column("job", String(32), ForeignKey("web_jobs.id"), nullable=False),
    Column("stage", String(40), nullable=False),
    Column("revision", Integer, nullable=False),
    Column("at", Float, nullable=False),
    Column("who", Text, nullable=False),
    Column("note", Text, nullable=False),
    PrimaryKeyConstraint("job", "stage", "revision"),
)
RUNS: Final = Table(
    "web_runs",  # which run of the records belongs to which revision of a job
    METADATA,
    Column("run", String(80), primary_key=True),
    Column("job", String(32), ForeignKey("web_jobs.id"), nullable=False, index=True),
    Column("revision", Integer, nullable=False),
    Column("at", Float, nullable=False),
)
GUESTS: Final = Table(
    "web_guests",  # which jobs a witness may look at
    METADATA,
    Column("job", String(32), ForeignKey("web_jobs.id"), nullable=False),
    Column("account", String(32), ForeignKey("web_accounts.id"), nullable=False, index=True),
    PrimaryKeyConstraint("job", "account"),
)
ACCOUNTS: Final = Table(
    "web_accounts",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("name", Text, nullable=False),
    Column("login", Text, nullable=False),  # the name, case folded and trimmed
    Column("password", Text, nullable=False),  # argon2id, with its parameters
    Column("role", String(40), nullable=False),
    Column("qualifications", Text, nullable=False),  # separated by commas
    Column("units", String(2), nullable=False),
    Column("theme", String(8), nullable=False),
    Column("made_at", Float, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("disabled_at", Float),
    UniqueConstraint("login"),
)
SESSIONS: Final = Table(
    "web_sessions",
    METADATA,
    Column("token_sha256", String(64), primary_key=True),
    Column("account", String(32), ForeignKey("web_accounts.id"), index=True),  # none: at the machine itself
    Column("name", Text, nullable=False),
    Column("qualifications", Text, nullable=False),
    Column("units", String(2), nullable=False),
    Column("theme", String(8), nullable=False),
    Column("made_at", Float, nullable=False),
    Column("seen_at", Float, nullable=False),
)
AUDIT: Final = Table(
    "web_audit",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("at", Float, nullable=False),
    Column("who", Text, nullable=False),
    Column("account", String(32), nullable=False),  # empty: at the machine itself
    Column("address", String(64), nullable=False),
    Column("what", String(60), nullable=False),
    Column("subject", Text, nullable=False),
    Column("detail", Text, nullable=False),
    Index("web_audit_by_what", "what", "at"),
)
LINKS: Final = Table(
    "web_links",  # what somebody without an account may look at, by a secret address
    METADATA,
    Column("token_sha256", String(64), primary_key=True),
    Column("purpose", String(40), nullable=False),
    Column("subject", String(80), nullable=False),
    Column("made_at", Float, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("until", Float, nullable=False),
    Column("withdrawn_at", Float),
    Column("label", Text, nullable=False, server_default=""),  # for whom; of links before version 2 it is not known
)
RUN_PINS: Final = Table(
    "web_run_pins",  # of those without an account who sign in a run at the machine itself
    METADATA,
    Column("run", String(80), primary_key=True),
    Column("login", String(120), primary_key=True),  # the name, case folded and trimmed
    Column("role", String(40), primary_key=True),
    Column("name", Text, nullable=False),
    Column("pin", Text, nullable=False),  # argon2id, with its parameters
)
DIAGNOSES: Final = Table(
    "web_diagnoses",  # what was read of a unit in service, and what was made of it
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("job", String(32), ForeignKey("web_jobs.id"), nullable=False, index=True),
    Column("revision", Integer, nullable=False),
    Column("at", Float, nullable=False),
    Column("who", Text, nullable=False),
    Column("readings", Text, nullable=False),  # JSON
    Column("found", Text, nullable=False),  # JSON
)
TRAINING: Final = Table(
    "web_training",  # who tried which task of the trainer, on which unit, and what came of it
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("job", String(32), ForeignKey("web_jobs.id"), nullable=False, index=True),
    Column("revision", Integer, nullable=False),
    Column("task", String(40), nullable=False),
    Column("who", Text, nullable=False),
    Column("account", String(32), nullable=False),  # empty: at the machine itself
    Column("begun_at", Float, nullable=False, index=True),
    Column("ended_at", Float),  # none: at work, or the server was ended with it
    Column("outcome", String(20), nullable=False),
    Column("unit_s", Float, nullable=False),  # of the unit's own time, until it was over
    Column("reached", Integer, nullable=False),
    Column("goals", Integer, nullable=False),
    Column("wrong", Text, nullable=False),  # JSON: time of the unit, words, whether dangerous
    Column("guesses", Integer, nullable=False),  # at the cause, that were wrong
    Column("hints", Integer, nullable=False),
    Column("remark", Text, nullable=False),  # harm done, or why it was left
)
