"""`jobnotes models`: what can be heard with, and how to get more."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from jobnotes.commands.showing import Bar, plain_errors, shown_progress
from jobnotes.hearing.adding import Progress
from jobnotes.hearing.adding import add as add_model
from jobnotes.hearing.catalogue import Catalogue, Known, Level, catalogue
from jobnotes.hearing.choose import models_there
from jobnotes.hearing.folders import places
from jobnotes.hearing.two_hearings import JOIN
from jobnotes.hearing.weights import PackagedWeights

_MODELS = click.option(
    "--models",
    "folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="A folder of models; else JOBNOTES_MODELS, this checkout's models, and your own data folder.",
)


@click.group(invoke_without_command=True, short_help="List the recognisers, or add one.")
@_MODELS
@click.option("--json", "as_json", is_flag=True, help="Print the list as JSON.")
@click.pass_context
def models(context: click.Context, folder: Path | None, as_json: bool) -> None:
    """List the levels and the recognisers: what is here, what could be, and where each comes from.

    Nothing is fetched by this; only `jobnotes models add NAME` uses the network.

    Exit status: 0 listed; 2 nothing could be listed.
    """
    if context.invoked_subcommand is not None:
        context.obj = folder
        return
    with plain_errors():
        named = (folder,) if folder else ()
        listed = _listed(catalogue(), named)
        click.echo(json.dumps(listed, ensure_ascii=False, indent=1) if as_json else _as_text(listed))


@models.command()
@click.argument("what", metavar="WHAT")
@click.option("--models", "folder", type=click.Path(path_type=Path), metavar="DIR", help="Where it goes.")
@click.pass_context
def add(context: click.Context, what: str, folder: Path | None) -> None:
    """Add a model: WHAT is its folder, a zip with one model in it, or a name that `jobnotes models` lists.

    A name is downloaded from its publisher's address. The model is tried once before it is kept.

    Exit status: 0 added; 2 not added, and nothing is left behind.
    """
    with plain_errors():
        with shown_progress() as bar:
            added = add_model(what, to=folder or context.obj, progress=_steps_of(bar))
        click.echo(f"{added.name}: {added.engine} model, now in {added.path}")
        click.echo(f"Use it with: --hear-with {added.name if added.path.parent in places() else added.path}")


def _steps_of(bar: Bar) -> Progress:
    """A step of the bar for each thing that is done, and how much of it is."""
    tick: Any = None
    doing_now = ""

    def show(doing: str, share: float | None) -> None:
        nonlocal tick, doing_now
        if doing != doing_now:
            tick, doing_now = bar.step(doing, 1.0), doing
        if share is not None:
            tick(share)

    return show


def _listed(known: Catalogue, named: tuple[Path, ...]) -> dict[str, Any]:
    there = models_there(named)
    here = {model.name for model in there}
    return {
        "default": known.default,
        "levels": [_level(known, level) for level in known.levels],
        "recognisers": [
            *(
                {
                    "name": p.name,
                    "engine": p.engine,
                    "here": PackagedWeights(p).present(),
                    "about": p.about,
                    "from": p.origin,
                    "licence": p.licence,
                    "get": p.install,
                }
                for p in known.packaged
            ),
            *(
                {"name": m.name, "engine": m.engine, "here": True, "from": str(m.path)}
                | (_published(known, k) if (k := known.known_as(m.name)) else {})
                for m in there
            ),
            *(
                {
                    "name": k.name,
                    "engine": k.engine,
                    "here": False,
                    "from": k.address,
                    "get": f"jobnotes models add {k.name}",
                }
                | _published(known, k)
                for k in known.known
                if k.name not in here
            ),
        ],
        "places": [str(place) for place in places(named)],
    }


def _level(known: Catalogue, level: Level) -> dict[str, Any]:
    wanting = [
        packaged
        for name in level.hears_with.split(JOIN)
        if (packaged := known.packaged_as(name)) is not None and not PackagedWeights(packaged).present()
    ]
    listed: dict[str, Any] = {
        "name": level.name,
        "hears_with": level.hears_with,
        "here": not wanting,
        "about": level.about,
    }
    if level.measured is not None:
        listed["measured"] = asdict(level.measured)
    if wanting:
        listed["get"] = " && ".join(packaged.install for packaged in wanting)
    return listed


def _published(known: Catalogue, model: Known) -> dict[str, Any]:
    return {
        "about": model.about,
        "licence": model.licence,
        "size_mb": model.size_mb,
        "sha256": model.sha256 or "none recorded",
        "published_word_errors": [{"on": e.on, "percent": e.percent} for e in model.word_errors],
        "published_word_errors_source": f"{known.vosk.page}, {known.vosk.said}",
    }


def _as_text(listed: dict[str, Any]) -> str:
    lines = ["Levels", "", *_levels(listed)]
    here = [r for r in listed["recognisers"] if r["here"]]
    could_be = [r for r in listed["recognisers"] if not r["here"]]
    for title, group in (("Here", here), ("Could be here", could_be)):
        if not group:
            continue
        lines += [title, ""]
        for entry in group:
            default = ", the default" if entry["name"] == listed["default"] else ""
            lines.append(f"  {entry['name']}  ({entry['engine']}{default})")
            lines += [f"      {line}" for line in _details(entry)]
        lines.append("")
    sources = {r["published_word_errors_source"] for r in listed["recognisers"] if "size_mb" in r}
    for source in sorted(sources):
        lines += [f"* {source}; no digest is recorded, one is asked for when a model is fetched", ""]
    lines.append("Models are looked for in:")
    lines += [f"  {place}" for place in listed["places"]]
    return "\n".join(lines)


def _levels(listed: dict[str, Any]) -> list[str]:
    """The levels with what was measured of them, for a person who chooses."""
    lines: list[str] = []
    for level in listed["levels"]:
        default = ", the default" if level["hears_with"] == listed["default"] else ""
        lines.append(f"  {level['name']}  ({level['hears_with']}{default})")
        lines.append(f"      {level['about']}")
        if measured := level.get("measured"):
            found, wrong, check = measured["recall"], measured["wrong_and_sure"], measured["to_check"]
            lines.append(f"      found of what was said: {found[0]:g} %, in noise {found[1]:g} %*")
            lines.append(
                f"      wrong of the facts called sure: {wrong[0]:g} %, in noise {wrong[1]:g} %*; "
                f"to check of all: {check[0]:g} %, in noise {check[1]:g} %*"
            )
            lines.append(f"      takes {measured['time']:g} of the sound's length*, {measured['memory']} MiB")
        if not level["here"]:
            lines.append(f"      get it with: {level['get']}")
    return [
        *lines,
        "",
        "* measured on synthetic voices, half of them robot-like, noise 10 dB below them: docs/hearing.md",
        "",
    ]


def _details(entry: dict[str, Any]) -> list[str]:
    size = f"; about {entry['size_mb']} MB" if "size_mb" in entry else ""
    lines = [f"{entry['about']}{size}; licence {entry['licence']}"] if "about" in entry else []
    lines.append(f"from {entry['from']}")
    if errors := entry.get("published_word_errors"):
        said = ", ".join(f"{e['percent']:g} % on {e['on']}" for e in errors)
        lines.append(f"published word error rate*: {said}")
    if not entry["here"]:
        lines.append(f"get it with: {entry['get']}")
    return lines
