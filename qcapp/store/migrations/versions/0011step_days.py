"""An index by which the first day of a step is found without reading the sums of all years."""

import sqlalchemy as sa
from alembic import op

revision = "0011step"
down_revision = "0009gauge"
branch_labels = None
depends_on = None


def upgrade() -> None:
    is_step = sa.text("kind = 'step'")
    op.create_index(
        "tally_step_day",
        "tally",
        ["checklist", "name", "day"],
        sqlite_where=is_step,
        postgresql_where=is_step,
    )
