"""The tables of studies and of their rows."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_BIG = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make them."""
    op.create_table(
        "study",
        sa.Column("number", _BIG, primary_key=True, autoincrement=True),
        sa.Column("id", sa.String(32), nullable=False, unique=True),
        sa.Column("owner", sa.String(40), nullable=False),
        sa.Column("once", sa.String(200)),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("document", sa.LargeBinary, nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("calculation", sa.String(20), nullable=False),
        sa.Column("cases", sa.BigInteger, nullable=False),
        sa.Column("done", sa.BigInteger, nullable=False),
        sa.Column("failed", sa.BigInteger, nullable=False),
        sa.Column("state", sa.String(10), nullable=False),
        sa.Column("rate", sa.Float),
        sa.Column("created", sa.Float, nullable=False),
        sa.Column("ended", sa.Float),
        sa.Column("runner", sa.String(80)),
        sa.Column("until", sa.Float),
        sa.UniqueConstraint("owner", "once"),
    )
    op.create_table(
        "study_row",
        sa.Column("study", _BIG, primary_key=True, autoincrement=False),
        sa.Column("case_number", _BIG, primary_key=True, autoincrement=False),
        sa.Column("status", sa.SmallInteger, nullable=False),
        sa.Column("cells", sa.LargeBinary, nullable=False),
        sqlite_with_rowid=False,
    )


def downgrade() -> None:
    """Remove them."""
    op.drop_table("study_row")
    op.drop_table("study")
