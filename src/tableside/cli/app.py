"""The commands. Status: 0 done, 1 nothing readable or a wrong worksheet, 2 wrong usage."""

from pathlib import Path
from typing import Annotated

import typer

from tableside.errors import TablesideError

CAUTION = (
    "tableside supports a licensed veterinarian and does not replace one. "
    "Every number is a reading of stored images; a person decides."
)

app = typer.Typer(
    name="tableside",
    help="Read a stored echocardiogram of a dog or cat, doubt every number, write the letter.",
    epilog=CAUTION,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode="rich",
    pretty_exceptions_enable=False,
)

Study = Annotated[
    Path,
    typer.Argument(metavar="STUDY", help="A folder (searched through), a .zip or one file."),
]
Out = Annotated[
    Path,
    typer.Option("--out", metavar="DIR", help="Where the results go.", file_okay=False),
]
Worksheet = Annotated[
    Path | None,
    typer.Option("--worksheet", metavar="FILE", help="Default: worksheet.toml in STUDY."),
]
Spreads = Annotated[
    Path | None,
    typer.Option(
        "--spreads",
        metavar="FILE",
        help="A practice's own repeatability, in place of published.",
    ),
]
NoPdf = Annotated[bool, typer.Option("--no-pdf", help="Leave out report.pdf.")]
Data = Annotated[
    Path, typer.Option("--data", metavar="DIR", help="Where studies and edits are kept.")
]
Port = Annotated[int, typer.Option(help="0 takes any free one.", min=0, max=65535)]
Template = Annotated[
    str,
    typer.Option(
        "--template",
        metavar="TID",
        help="Layout of the structured report: 5200 (echocardiography) or 1500 (measurements).",
    ),
]


@app.callback(invoke_without_command=True)
def _root(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", is_eager=True)
    ] = False,
) -> None:
    if version:
        from importlib.metadata import version as installed  # noqa: PLC0415

        typer.echo(f"tableside {installed('tableside')}")
        raise typer.Exit


@app.command()
def read(
    study: Study,
    out: Out,
    worksheet: Worksheet = None,
    spreads: Spreads = None,
    no_pdf: NoPdf = False,
    template: Template = "5200",
) -> None:
    """Read a study: measure, check, conclude, and write study.json, report.pdf and the SR."""
    from tableside.cli.reading import read_study  # noqa: PLC0415

    if template not in ("5200", "1500"):
        raise typer.BadParameter(f"{template!r}; it is 5200 or 1500", param_hint="--template")
    read_study(
        study, out, worksheet=worksheet, spreads=spreads, pdf=not no_pdf, template=template
    )


@app.command()
def serve(
    studies: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[STUDY]...", help="Folders, zips or files to put on the desk."),
    ] = None,
    data: Data = Path("tableside-data"),
    host: Annotated[str, typer.Option(help="This machine's own address.")] = "127.0.0.1",
    port: Port = 8400,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Do not open the browser.")
    ] = False,
) -> None:
    """Open the desk in the browser: look, measure, correct and judge."""
    from tableside.cli.serve import serve as serve_desk  # noqa: PLC0415

    serve_desk(
        data,
        host=host,
        port=port,
        open_browser=not no_browser,
        studies=tuple(studies or ()),
    )


@app.command()
def demo(
    out: Annotated[
        Path,
        typer.Option(
            "--out", metavar="DIR", help="Where the study and results go.", file_okay=False
        ),
    ] = Path("tableside-demo"),
    serve_it: Annotated[
        bool, typer.Option("--serve", help="Then open the study on the desk in the browser.")
    ] = False,
    port: Port = 8400,
) -> None:
    """Make the study of an invented dog, read it, and show what was found."""
    from tableside.cli.reading import read_study, writing_into  # noqa: PLC0415
    from tableside.phantom.study import demo_study  # noqa: PLC0415

    typer.echo("Making the study of an invented dog at an invented clinic ...", err=True)
    with writing_into(out):
        demo_study(out / "study")
    read_study(out / "study", out / "results")
    if serve_it:
        from tableside.cli.serve import serve as serve_desk  # noqa: PLC0415

        place = out / "desk"
        serve_desk(
            place, host="127.0.0.1", port=port, open_browser=True, studies=(out / "study",)
        )


@app.command()
def phantom(
    out: Annotated[
        Path,
        typer.Option("--out", metavar="DIR", help="Where the study goes.", file_okay=False),
    ],
    seed: Annotated[int, typer.Option(help="The same seed gives the same study.")] = 0,
    weight: Annotated[float, typer.Option(help="Body weight, kg.", min=0.4, max=120.0)] = 10.0,
) -> None:
    """Make a study with known truth: images and worksheet, and truth.toml beside them."""
    from tableside.cli.phantom import make  # noqa: PLC0415

    make(out, seed=seed, weight_kg=weight)


@app.command()
def repeatability(
    table: Annotated[
        Path,
        typer.Argument(
            metavar="FILE.csv", help="dog, operator, day, reading, quantity, value."
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE.toml", help="Write what `read --spreads` takes."),
    ] = None,
) -> None:
    """Estimate how far beats, sweeps and readers of this practice differ."""
    from tableside.cli.repeatability import estimate  # noqa: PLC0415

    estimate(table, out)


@app.command()
def validate(
    kind: Annotated[
        str, typer.Option(help="calibration, misspecified, faults or spreads.")
    ] = "calibration",
    simulations: Annotated[int, typer.Option(help="Examinations to simulate.", min=10)] = 300,
    seed: Annotated[int, typer.Option(help="The same seed gives the same table.")] = 1,
) -> None:
    """Hold the model of the examination against simulated ones whose truth is known."""
    from tableside.cli.validate import run  # noqa: PLC0415

    run(kind, simulations, seed)


def main() -> None:
    """Run the command line; a deliberate error is one line on stderr and status 1."""
    try:
        app()
    except TablesideError as error:
        typer.echo(f"tableside: {error}", err=True)
        raise SystemExit(1) from None
