"""The options that several commands take, and those of the commands that take many: each with its
words once. A command gives the default.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from qcapp.cli.numbers import quote, read_count, read_level, read_number
from qcapp.errors import BadInput


def _option(flag: str, words: str, read: Callable[[str], object], metavar: str) -> Any:
    # A default reaches the parser too, as the number that it is.
    def parse(given: object) -> object:
        text = str(given)
        try:
            return read(text)
        except ValueError as error:
            raise BadInput(f"{quote(text)} is {error}", flag, "give another value") from error

    return typer.Option(flag, help=words, parser=parse, metavar=metavar)


def count_option(flag: str, words: str) -> Any:
    """An option that is a count of stoves: 0 to MAX_COUNT."""
    return _option(flag, words, read_count, "COUNT")


def number_option(flag: str, words: str) -> Any:
    """An option that is a number with a decimal point."""
    return _option(flag, words, read_number, "NUMBER")


# Of many commands.
AsJson = Annotated[bool, typer.Option("--json", help="print JSON instead of text")]
AlwaysJson = Annotated[bool, typer.Option("--json", help="these commands always print JSON")]
TextFile = Annotated[Path | None, typer.Option(help="file to write; without it, to the screen")]
AuthorityFolder = Annotated[
    Path | None, typer.Option(help="folder of the authority (in this user's data folder)")
]
BackupFile = Annotated[Path | None, typer.Argument(metavar="FILE", help="the backup")]

# Of figures.
Level = Annotated[
    float, _option("--level", "confidence, between 0.5 and 0.9999", read_level, "LEVEL")
]
Lot = Annotated[int, count_option("--lot", "stoves in the batch")]
SampleSize = Annotated[int, count_option("--n", "stoves in the sample")]

# Of commands that start a server.
Port = Annotated[int, typer.Option(help="port to listen on")]
Host = Annotated[str, typer.Option(help="address to listen on")]
Proxy = Annotated[
    str | None,
    typer.Option(
        help="IP address of a reverse proxy on another machine, which speaks https; "
        "needed for any other --host"
    ),
]

# Of qcapp serve.
HostOrLan = Annotated[
    str | None, typer.Option(help="address to listen on (127.0.0.1; with --lan the authority's)")
]
PortOrLan = Annotated[
    int | None, typer.Option(help="port to listen on (8000; with --lan the authority's)")
]
PublicAddress = Annotated[
    str | None,
    typer.Option(
        help="behind a proxy: where people reach it, such as https://yard.example.org; "
        "for the first link"
    ),
]
WithLan = Annotated[
    bool,
    typer.Option(
        "--lan", help="https with the authority of qcapp lan init, and its page for new phones"
    ),
]
LanFolder = Annotated[
    Path | None,
    typer.Option(help="with --lan: folder of the authority (in this user's data folder)"),
]
HstsDays = Annotated[
    int,
    typer.Option(
        min=0,
        help="behind a proxy: browsers use only https for this many days (0: they are not told to)",
    ),
]
Workers = Annotated[
    int, typer.Option(min=1, help="processes that serve; more than one needs PostgreSQL")
]
NewYard = Annotated[
    bool,
    typer.Option(
        "--new", help="make a new, empty yard where the database of QCAPP_DATABASE_URL is not"
    ),
]
NewKey = Annotated[
    bool,
    typer.Option(
        "--new-key", help="the yard's key is lost for good: make another and tell the buyers"
    ),
]

# Of qcapp chart.
ChartFile = Annotated[
    Path,
    typer.Argument(help="CSV in the order made, with the column value; for p: faults, inspected"),
]
ChartKind = Annotated[str, typer.Option(help="individuals, p, ewma or cusum")]
Target = Annotated[
    float | None, number_option("--target", "ewma, cusum: target value; else the mean")
]
Sigma = Annotated[
    float | None,
    number_option(
        "--sigma", "ewma, cusum: standard deviation of one reading; else from the moving range"
    ),
]
Weight = Annotated[float, number_option("--weight", "ewma: of the newest reading")]
Width = Annotated[float, number_option("--width", "ewma: limits in standard deviations")]
Slack = Annotated[
    float | None, number_option("--slack", "cusum: allowance at each reading; else sigma / 2")
]
DecisionLimit = Annotated[
    float | None, number_option("--decision", "cusum: limit of the sums; else 5 sigma")
]
Laney = Annotated[bool, typer.Option(help="p: limits widened by how much the points vary (Laney)")]
