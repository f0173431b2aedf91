"""Hand-over from device to device, and which readings another store is known to have."""

import sqlalchemy as sa
from alembic import op

from steadfeed.records.migrations.append_only import forbid_changes

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

LOCAL_KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Bring the schema forward."""
    op.create_table(
        "hand_over",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("visit_id", sa.String(length=36), nullable=False),
        sa.Column("direction", sa.Text(), nullable=False),
        sa.Column("at", sa.Double(), nullable=False),
        sa.Column("from_person_id", sa.String(length=36), nullable=True),
        sa.Column("to_person_id", sa.String(length=36), nullable=True),
        sa.Column("from_device", sa.Text(), nullable=True),
        sa.Column("to_device", sa.Text(), nullable=True),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.Double(), nullable=False),
        sa.Column("person_id", sa.String(length=36), nullable=True),
        sa.Column("device", sa.Text(), nullable=True),
        sa.Column("withdrawn", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.ForeignKeyConstraint(["from_person_id"], ["person.id"], name=op.f("fk_hand_over_from_person_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_hand_over_person_id")),
        sa.ForeignKeyConstraint(["to_person_id"], ["person.id"], name=op.f("fk_hand_over_to_person_id")),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_hand_over_visit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hand_over")),
    )
    op.create_index(op.f("ix_hand_over_visit_id"), "hand_over", ["visit_id"])
    op.create_table(
        "sent_mark",
        sa.Column("peer", sa.String(length=120), nullable=False),
        sa.Column("stream_key", LOCAL_KEY, autoincrement=False, nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["stream_key"], ["stream.key"], name=op.f("fk_sent_mark_stream_key")),
        sa.PrimaryKeyConstraint("peer", "stream_key", name=op.f("pk_sent_mark")),
    )
    forbid_changes(
        op.get_bind(),
        {
            "hand_over": (
                "id", "visit_id", "direction", "at", "from_person_id", "to_person_id", "from_device", "to_device",
                "sha256", "readings", "made_at", "person_id", "device",
            )
        },
    )  # fmt: skip


def downgrade() -> None:
    """There is no way back: a copy was kept."""
    raise NotImplementedError("a schema is never taken back; open the copy that was kept")
