"""From a name to a recogniser, and what there is to choose from."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from jobnotes.errors import JobnotesError
from jobnotes.hearing.catalogue import Packaged, catalogue
from jobnotes.hearing.closed import INSTALL, ClosedVocabulary
from jobnotes.hearing.folders import ModelFolder, model_folder, models_in, places
from jobnotes.hearing.recogniser import Recogniser
from jobnotes.hearing.second import SUFFIX, TwoListeners
from jobnotes.hearing.two_hearings import JOIN, TwoHearings
from jobnotes.hearing.vosk_engine import VoskRecogniser
from jobnotes.hearing.weights import PackagedWeights
from jobnotes.hearing.whisper import Beside, WhisperRecogniser


def recogniser(
    name: str | None = None,
    *,
    prompt: str | None = None,
    folders: Iterable[Path] = (),
    cpu_threads: int | None = None,
) -> Recogniser:
    """The recogniser called `name`; no weights are loaded yet.

    `name` is one of the packaged ("tiny.en", "base"), a model that lies in one of the places for models
    (`folders` are looked in first), or the path of a model's folder; None is the default. `prompt` is
    vocabulary for a whisper model: None takes the tool's own, unless the model is tuned to it, "" none. With
    "+numbers" after its name what it hears of numbers and codes is heard a second time; with another name
    after it ("base+tiny.en") all that it hears is compared with what that one does. A level ("quick",
    "careful") is one of these by a name of its own. Raises JobnotesError where there is no such recogniser,
    with the way to get it.
    """
    known = catalogue()
    name = name or known.default
    if level := known.level_called(name):
        name = level.hears_with
    if name.endswith(SUFFIX):
        if not ClosedVocabulary.present():
            raise JobnotesError(name, "the second listener is not installed", INSTALL)
        first = name.removesuffix(SUFFIX) or known.default.removesuffix(SUFFIX)
        return TwoListeners(recogniser(first, prompt=prompt, folders=folders, cpu_threads=cpu_threads))
    packaged = known.packaged_as(name)
    if packaged is not None:
        weights = PackagedWeights(packaged)
        if not weights.present():
            raise JobnotesError(name, "the recogniser's weights are not installed", packaged.install)
        return WhisperRecogniser(
            weights,
            prompt=_told(packaged, prompt),
            beside=_beside(packaged, prompt),
            cpu_threads=cpu_threads,
        )
    first, joined, second = name.rpartition(JOIN)
    if joined and first and second and not _is_a_folder(name, tuple(folders)):
        one, other = (
            recogniser(part, prompt=prompt, folders=folders, cpu_threads=cpu_threads)
            for part in (first, second)
        )
        return TwoHearings(one, other, known.curves)
    folder = _folder(name, tuple(folders))
    if folder.engine == "vosk":
        return VoskRecogniser(folder)
    prompt = known.prompt.text if prompt is None else prompt
    return WhisperRecogniser(folder, prompt=prompt, cpu_threads=cpu_threads)


def models_there(folders: Iterable[Path] = ()) -> tuple[ModelFolder, ...]:
    """The models in all places, those that would be used: one a name, the first that is found."""
    found: dict[str, ModelFolder] = {}
    for place in places(tuple(folders)):
        for model in models_in(place):
            found.setdefault(model.name, model)
    return tuple(found.values())


def _told(packaged: Packaged, prompt: str | None) -> str | None:
    """What the recogniser is told to expect, by what was asked for."""
    return catalogue().prompt.text if prompt is None and packaged.prompted else prompt


def _beside(packaged: Packaged, prompt: str | None) -> Beside | None:
    second = catalogue().packaged_as(packaged.beside) if packaged.beside else None
    return Beside(PackagedWeights(second), _told(second, prompt)) if second else None


def _is_a_folder(name: str, folders: tuple[Path, ...]) -> bool:
    return Path(name).is_dir() or any(model.name == name for model in models_there(folders))


def _folder(name: str, folders: tuple[Path, ...]) -> ModelFolder:
    for model in models_there(folders):
        if model.name == name:
            return model
    if any(c in name for c in "/\\") or Path(name).is_dir():
        return model_folder(Path(name))
    if catalogue().known_as(name) is not None:
        raise JobnotesError(name, "this model is not here", f"fetch it with: jobnotes models add {name}")
    raise JobnotesError(
        name, "there is no recogniser of this name", "`jobnotes models` lists what is there and what could be"
    )
