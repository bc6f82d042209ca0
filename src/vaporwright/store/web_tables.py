"""The tables of the web application, beside those of the records: jobs with revisions, people, sessions, audit, links.

Times are seconds since 1970 (UTC); what people read of them is made at the edge.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import Column, Float, ForeignKey, Index, Integer, MetaData, String, Table, Text
from sqlalchemy.schema import PrimaryKeyConstraint, UniqueConstraint

METADATA: Final = MetaData()

SCHEMA: Final = Table("web_schema", METADATA, Column("version", Integer, nullable=False))

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
