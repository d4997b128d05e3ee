"""Settings: environment (QCAPP_...) and flags, read once when a command starts."""

from pathlib import Path

from platformdirs import user_data_path
from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict

PACKAGE = Path(__file__).resolve().parent


def find_shipped(name: str) -> Path:
    """The folder or file beside the package in a checkout, or its copy inside the wheel."""
    beside = PACKAGE.parent / name
    return beside if beside.exists() else PACKAGE / "bundled" / name


def find_data_folder() -> Path:
    """The one folder of this user in which a yard lies, wherever a command is started."""
    return user_data_path("qcapp", appauthor=False)


def find_lan_folder() -> Path:
    """Where the authority of a yard without internet lies, unless another is named."""
    return find_data_folder() / "qcapp-lan"


class Settings(BaseSettings):
    """Every setting with its meaning; a test compares the guide's table with this."""

    model_config = SettingsConfigDict(env_prefix="QCAPP_", extra="ignore")

    database_url: str = Field(
        default_factory=lambda: f"sqlite:///{find_data_folder() / 'qcapp.db'}",
        description="where the log and the figures are kept",
    )
    static_dir: Path = Field(
        default_factory=lambda: find_shipped("static"), description="phone app and page assets"
    )
    checklists_dir: Path = Field(
        default_factory=lambda: find_shipped("checklists"),
        description="YAML checklists, their drawings and pictures",
    )
    yard_name: str = Field(
        "My yard", description="name of the yard on every page, until the lead gives one"
    )
    apprentice_days: int = Field(
        180, ge=1, description="an artisan is an apprentice for this many days after the first day"
    )
    apprentice_stoves: int = Field(
        0,
        ge=0,
        description="if above 0: an apprentice has made fewer stoves of the step, "
        "whatever the days",
    )
    join_minutes: int = Field(
        15, ge=1, description="how long a one-time join code is valid, in minutes"
    )
    min_count: int = Field(
        20, ge=1, description="below this many stoves a rate is called too few to tell"
    )
    key_file: Path = Field(
        default_factory=lambda: find_data_folder() / "qcapp-key.pem",
        description="the yard's private key, which signs summaries; made when absent, back it up",
    )
    backup_dir: Path | None = Field(
        None, description="daily backups (when not given: the folder backups beside the database)"
    )
    backup_second_dir: Path | None = Field(
        None, description="a second place for each daily backup, such as a folder on a stick"
    )
    backup_keep: int = Field(14, ge=2, description="how many daily backups are kept in each place")
    link_days: int = Field(90, ge=1, description="how long a buyer's link is valid, in days")
