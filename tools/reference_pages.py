"""Writes the reference pages that are made from the code: the command line and the criteria.

    python tools/reference_pages.py

`make fix` runs it; tests/contracts/test_docs.py fails while a page differs from what this makes.
"""

from __future__ import annotations

import inspect
from pathlib import Path

import click

PAGES = Path(__file__).parents[1] / "docs" / "reference"

EXIT_CODES = """\
| exit code | means |
|---|---|
| 0 | done; for `judge` also `undecided` |
| 1 | steadfeed met an error of its own |
| 2 | bad usage, or the only file was bad |
| 3 | some of several files were bad |
| 130 | stopped by Ctrl-C |
| 141 | the reader of the output went away |
"""

NOTE = "<!-- made by tools/reference_pages.py (make fix); do not edit -->"


def command_line() -> str:
    """Return the page of every verb, from Click itself."""
    from steadfeed.cli.root import VERBS, root

    parts = [
        NOTE,
        "# Command line\n",
        "A number may be followed by its unit; a bare number is in US units. Errors are one sentence on standard error.\n",
        EXIT_CODES,
        "With `STEADFEED_TRACE=1` in the environment an error also shows where in the code it arose.\n",
        _page("steadfeed", root, 2),
    ]
    context = click.Context(root, info_name="steadfeed")
    for verb in VERBS:
        command = root.get_command(context, verb)
        assert command is not None
        parts.append(_tree(f"steadfeed {verb}", command, context, 2))
    return "\n".join(parts).rstrip() + "\n"


def criteria() -> str:
    """Return the table of every threshold with its source."""
    from steadfeed.analysis.criteria import CRITERIA
    from steadfeed.analysis.guard import GUARD

    rows, guard = (
        [
            f"| `{name}` | {_shown(one.value, one.kind)} | {_cell(one.text)} | {_cell(one.source)} |"
            for name, one in table.items()
        ]
        for table in (CRITERIA, GUARD)
    )
    return "\n".join(
        [
            NOTE,
            "# Criteria\n",
            "Every number that the judgement decides by. A hash over this table is part of each method version, so two",
            "judgements with the same version were made by the same thresholds.\n",
            "| criterion | value | what it decides | source |",
            "|---|---|---|---|",
            *rows,
            "",
            "## The guard\n",
            "What the live guard alarms by. These decide no verdict and take no part in the method version.\n",
            "| criterion | value | what it decides | source |",
            "|---|---|---|---|",
            *guard,
            "",
        ]
    )


def pages() -> dict[Path, str]:
    """Return every generated page by its path."""
    return {PAGES / "command-line.md": command_line(), PAGES / "criteria.md": criteria()}


def _tree(path: str, command: click.Command, parent: click.Context, level: int) -> str:
    text = _page(path, command, level)
    if isinstance(command, click.Group):
        context = click.Context(command, info_name=command.name, parent=parent)
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            if inner is not None:
                text += "\n" + _tree(f"{path} {name}", inner, context, level + 1)
    return text


def _page(path: str, command: click.Command, level: int) -> str:
    context = click.Context(command, info_name=path, help_option_names=["-h", "--help"])
    lines = [f"{'#' * level} `{path}`\n", "```text", command.get_usage(context), "```\n"]
    if command.help:
        lines.append(_help(command.help))
    options = [p.get_help_record(context) for p in command.get_params(context) if isinstance(p, click.Option)]
    lines += ["| option | |", "|---|---|"]
    lines += [f"| `{_cell(record[0])}` | {_cell(record[1])} |" for record in options if record is not None]
    return "\n".join(lines) + "\n"


def _help(text: str) -> str:
    """Turn Click's paragraphs into Markdown; those it must not wrap are examples."""
    paragraphs = []
    for paragraph in inspect.cleandoc(text).split("\n\n"):
        if paragraph.startswith("\b"):
            paragraphs.append("```console\n" + paragraph.removeprefix("\b").strip("\n") + "\n```")
        else:
            paragraphs.append(" ".join(paragraph.split()))
    return "\n\n".join(paragraphs) + "\n"


def _shown(value: float, kind: str) -> str:
    """Write a value exactly, unlike a report, which rounds."""
    from steadfeed.reports.numbers import Numbers

    numbers = Numbers("us")
    if not kind:
        return f"{value:g}"
    return f"{numbers.display(value, kind):.6g} {numbers.unit(kind) or {'time': 's'}.get(kind, '')}".strip()


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def main() -> None:
    """Write the pages that differ."""
    for path, text in pages().items():
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
            print(f"made {path.relative_to(PAGES.parents[1])}")


if __name__ == "__main__":
    main()
