"""From whatever nights were given to nights summed up: one after the other, or many on all cores.

Read `summary.py` first. A worker sends back a night summed up, never a fit, so that memory does not
grow with the season. A log that cannot be used is remembered and passed over.
"""

from __future__ import annotations

import glob
import os
import signal
import threading
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import join, printable, quoted
from pointmodel.comparing.summary import NightSummary, summary_of
from pointmodel.reading.sheetmarks import SHEET_ENDINGS
from pointmodel.showing.progress import Progress, progress_of

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountSource

LOG_ENDINGS = (".csv", ".tsv", *SHEET_ENDINGS)
FEWEST_FOR_WORKERS = 8  # nights: fewer are done before other processes have started
TERMS_FREED = "its fit had terms of your choice. Here the terms that its stars show count, all free"
MOST_NAMED = 3  # logs in one remark
MOST_REMARKS = 12  # more are not read
Outcome: TypeAlias = "NightSummary | InputError"


def summaries_of(
    logs: Iterable[Any] | str,
    mount: MountSource,
    workers: int = 1,
    progress: Progress = None,
) -> tuple[list[NightSummary], list[Problem]]:
    """Return the nights summed up, in the order given, and the problems of logs that are no use."""
    sources = list(sources_of(logs))
    work = partial(summary_of_source, mount=mount)
    with progress_of(progress, len(sources), "nights") as advance:
        if workers > 1 and len(sources) >= FEWEST_FOR_WORKERS:
            outcomes = _on_workers(work, sources, workers, advance)
        else:
            outcomes = []
            for source in sources:
                outcomes.append(work(source))
                if advance is not None:
                    advance()
    summaries = [outcome for outcome in outcomes if isinstance(outcome, NightSummary)]
    refused = [outcome for outcome in outcomes if isinstance(outcome, InputError)]
    return summaries, [problem for error in refused for problem in error.problems]


def summary_of_source(source: Any, mount: MountSource = None) -> Outcome:
    """Fit one night, unless it is a fit already, and return it summed up, or why it cannot be.

    A fit whose terms somebody chose is made anew with all of them free: nights are compared by what
    their stars say, and a term held on one of them would look like a change.
    """
    from pointmodel.fitting.fit import fit
    from pointmodel.fitting.result import Fit

    try:
        if not isinstance(source, Fit):
            return summary_of(fit(source, mount))
        if source.asked is None:
            return summary_of(source)
        free = summary_of(fit(source.as_written))
        return replace(free, warnings=(*free.warnings, Notice("terms_freed", TERMS_FREED)))
    except InputError as error:
        return error


def _on_workers(
    work: Callable[[Any], Outcome],
    sources: Sequence[Any],
    workers: int,
    progress: Callable[[], None] | None,
) -> list[Outcome]:
    """Return what the work gives for each source; an interruption leaves no process behind."""
    with _ending_in_order():
        return _done_by_a_pool(work, sources, workers, progress)


def _done_by_a_pool(
    work: Callable[[Any], Outcome],
    sources: Sequence[Any],
    workers: int,
    progress: Callable[[], None] | None,
) -> list[Outcome]:
    found: dict[int, Outcome] = {}
    many = min(workers, len(sources))
    pool = ProcessPoolExecutor(many, get_context("spawn"), initializer=_end_with_the_parent)
    try:
        with _deaf_to_interruptions():
            places = {pool.submit(work, source): place for place, source in enumerate(sources)}
        for done in as_completed(places):
            found[places.pop(done)] = done.result()
            if progress is not None:
                progress()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
    return [found[place] for place in range(len(sources))]


def _end_with_the_parent() -> None:
    """In a worker: end as soon as the process that it works for has ended, however that was."""
    parent = parent_process()
    if parent is None:
        return
    gone = parent.sentinel

    def watch() -> None:
        wait([gone])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


@contextmanager
def _ending_in_order() -> Iterator[None]:
    """A request to end (SIGTERM) is obeyed once the workers have ended, so that none complains."""
    in_main = threading.current_thread() is threading.main_thread()
    if not in_main or signal.getsignal(signal.SIGTERM) is not signal.SIG_DFL:
        yield
        return
    asked = []

    def stop(*_: object) -> None:
        asked.append(True)
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        if asked:
            os.kill(os.getpid(), signal.SIGTERM)


@contextmanager
def _deaf_to_interruptions() -> Iterator[None]:
    """Start processes that pass over Ctrl-C: it reaches them too, and is this one's to handle."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    usual = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, usual)


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def sources_of(logs: Iterable[Any] | str) -> Iterator[Any]:
    """Yield the single logs: folders and patterns as their files, each file once.

    Raises InputError for a pattern or folder without logs, and for what is no collection of logs.
    """
    if isinstance(logs, (str, os.PathLike)):
        logs = [logs]
    if not isinstance(logs, Iterable) or hasattr(logs, "columns") or hasattr(logs, "read"):
        wanted = "a list of logs: paths, frames, NightLogs or fits"
        raise InputError([Problem("<compare>", None, None, quoted(logs), wanted)])
    seen: set[str] = set()
    for source in logs:
        if not isinstance(source, (str, os.PathLike)) or str(source) == "-":
            yield source
            continue
        for path in _files(source):
            real = os.path.realpath(path)
            if real not in seen:
                seen.add(real)
                yield path


def _files(source: str | os.PathLike[str]) -> list[str]:
    """Return the files that a path, folder or pattern stands for."""
    text = os.fspath(source)
    if "\0" in text or os.path.isfile(text):
        return [text]
    if os.path.isdir(text):
        return _told(text, sorted(str(path) for path in Path(text).rglob("*") if _is_log(path)))
    if glob.has_magic(text):
        return _told(text, [p for p in sorted(glob.glob(text, recursive=True)) if _is_log(Path(p))])
    return [text]


def _told(text: str, found: list[str]) -> list[str]:
    if not found:
        wanted = f"a folder or pattern with logs in it ({join(LOG_ENDINGS, 'or')})"
        raise InputError([Problem(printable(text), None, None, "no log", wanted)])
    return found


def _is_log(path: Path) -> bool:
    hidden = any(part.startswith(".") and part not in (".", "..") for part in path.parts)
    return path.suffix.lower() in LOG_ENDINGS and not hidden and path.is_file()


def without_copies(summaries: Sequence[NightSummary]) -> tuple[list[NightSummary], list[Notice]]:
    """Return the nights, each once, and what is to be said of those given twice.

    The same pairs give the same answer to the last figure, whatever file they stand in.
    """
    kept: dict[tuple[object, ...], NightSummary] = {}
    notices = []
    for summary in summaries:
        pairs = summary.start_s, summary.pairs_read, summary.sigma_arcmin, summary.before_rms_arcmin
        first = kept.setdefault((*pairs, summary.fitted.tobytes()), summary)
        if first is not summary:
            text = (
                f"{_called(first)} and {_called(summary)} hold the same pairs. This night is used "
                "once"
            )
            notices.append(Notice("same_log", text))
    return list(kept.values()), notices


def _called(summary: NightSummary) -> str:
    from_file = summary.source and not summary.source.startswith("<")
    return printable(summary.source) if from_file else summary.name or "a night without a name"


def in_order(summaries: Sequence[NightSummary]) -> list[NightSummary]:
    """Return the nights by their starts where all are known, else as given."""
    if any(summary.start_s is None for summary in summaries):
        return list(summaries)
    return sorted(summaries, key=lambda summary: summary.start_s or 0.0)


def named(summaries: Sequence[NightSummary]) -> list[str]:
    """Return a name of its own for each night: its file's stem, with the folder where that helps.

    Nights that come from no file are night-1, night-2 and so on.
    """
    names = []
    for place, summary in enumerate(summaries, start=1):
        from_file = summary.name and not summary.source.startswith("<") and summary.source != "-"
        names.append(summary.name if from_file else f"night-{place}")
    often = Counter(names)
    for place, summary in enumerate(summaries):
        folder = os.path.basename(os.path.dirname(os.path.abspath(summary.source)))
        if often[names[place]] > 1 and os.path.sep in summary.source:
            names[place] = f"{folder}/{names[place]}"
    return _numbered(names)


def _numbered(names: list[str]) -> list[str]:
    """Return the names with a number on each that is there already."""
    taken: set[str] = set()
    found = []
    for name in names:
        unique, number = name, 2
        while unique in taken:
            unique, number = f"{name}-{number}", number + 1
        taken.add(unique)
        found.append(unique)
    return found


def season_notices(
    summaries: Sequence[NightSummary], ids: Sequence[str], problems: Sequence[Problem]
) -> tuple[Notice, ...]:
    """Return the remarks on the nights, each once with the nights that it is about."""
    notices = [Notice("skipped", f"left out: {problem}") for problem in problems[:MOST_REMARKS]]
    if len(problems) > MOST_REMARKS:
        rest = f"{len(problems) - MOST_REMARKS} more problems like these in logs left out"
        notices.append(Notice("skipped", rest))
    mounts = sorted({summary.mount_name for summary in summaries if summary.mount_name})
    if len(mounts) > 1:
        text = f"the mount files name different mounts ({join(mounts[:5])}). They are taken as one"
        notices.append(Notice("other_mounts", text))
    if any(summary.start_s is None for summary in summaries):
        notices.append(
            Notice("order", "not every log has times, so the nights stand in the order given")
        )
    about: dict[tuple[str, str], list[str]] = {}
    for summary, name in zip(summaries, ids, strict=True):
        for notice in summary.warnings:
            about.setdefault((notice.code, notice.text), []).append(name)
    notices += [
        Notice(code, text if len(whom) == len(summaries) else f"{_nights(whom)}: {text}")
        for (code, text), whom in list(about.items())[:MOST_REMARKS]
    ]
    if len(about) > MOST_REMARKS:
        text = (
            f"{len(about) - MOST_REMARKS} more remarks on single nights: run pointmodel fit on them"
        )
        notices.append(Notice("more_remarks", text))
    return tuple(notices)


def _nights(whom: Sequence[str]) -> str:
    rest = len(whom) - MOST_NAMED
    shown = list(whom[:MOST_NAMED]) if rest > 0 else list(whom)
    return join([*shown, f"{rest} more nights"] if rest > 0 else shown)
