"""From a record to what its report and its acceptance form are made from."""

import datetime as dt
import io
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from tension.adjustment.springs import SpringCheck
from tension.assessment.decide import Assessment, assess_set
from tension.catalogue import allowances
from tension.condition.acceptance import Acceptance, accept_set
from tension.condition.chain import build_chain
from tension.documents.commands import software_versions
from tension.errors import FileFormatError, InvalidValueError
from tension.files.evidence import FileEvidence, has_seal
from tension.files.record import read_allowance_tables
from tension.files.seal import hash_record
from tension.files.visit import Visit
from tension.measurement.readings import SpringReading
from tension.notes import Refusal
from tension.report.content import Evidence, ShownPhoto
from tension.workflow.adjustment import compare, springs_of
from tension.workflow.assess import Assessed, EvaluatedVisit, RuleChoice
from tension.workflow.inputs import choose_series, find_record
from tension.workflow.integrity import date_doubts, verify
from tension.workflow.listening import Progress

_MAKERS = ("typst", "matplotlib", "jinja2")
LARGEST, MOST_PIXELS = 40_000_000, 120_000_000  # larger photos are named [byte], [1]
LONGEST_SIDE = 1200  # enough for half a page [pixel]


def gather_evidence(
    path: Path | str,
    *,
    series: str | None = None,
    choice: RuleChoice | None = None,
    progress: Progress | None = None,
) -> Evidence:
    """Assess every series of a record and put together all that a report needs.

    Parameters
    ----------
    path, series, choice, progress : Path or str, str, RuleChoice, callable
        As of `assess_record`, of the series that the first page answers.

    Examples
    --------
    All that a report says of a record::

        evidence = gather_evidence("visit.toml")
    """
    record = find_record(Path(path))
    seen = EvaluatedVisit.of_record(record, progress=progress)
    visit = seen.visit
    wanted = choose_series(visit, series).name if visit.series or series else ""
    assessed = seen.each()
    recorded = tuple(one.assessment for one in assessed)
    every = [one.series for one in assessed]
    names = [one.name for one in every]
    alike = [one for one in every if one.span == every[-1].span]
    files, missing = hash_record(visit, record)
    today = dt.datetime.now().astimezone().date()
    allowance = visit.allowance
    is_later = allowance.date is not None and allowance.date > today + dt.timedelta(1)
    sealed = verify(record) if has_seal(record) else None
    return Evidence(
        visit=visit,
        assessments=tuple(_printed(one, choice or RuleChoice()) for one in assessed),
        recorded=recorded,
        main=names.index(wanted) if wanted in names else max(len(names) - 1, 0),
        chain=build_chain(
            visit.findings,
            rope_set=visit.rope_set,
            assessments=recorded,
            allowance=replace(allowance, is_of_the_future=is_later),
            table=_allowance_table(visit, record.parent),
        ),
        acceptance=_acceptance(seen) if visit.checks else None,
        comparison=compare(seen, alike[0], alike[-1], hitch=None)
        if len(alike) > 1
        else None,
        files=files,
        missing=missing,
        verification=sealed,
        versions=tuple(software_versions(*_MAKERS).items()),
        hearings=tuple(one.hearing for one in assessed),
        springs=_springs(seen),
        times=_times(files, record.parent),
        photos=shown_photos(visit, files, record.parent),
        date_doubts=date_doubts(visit, sealed, today=today),
    )


def accept_record(
    path: Path | str, *, progress: Progress | None = None
) -> tuple[Acceptance, tuple[FileEvidence, ...]]:
    """Work through the acceptance form of a record; with it every file that it names.

    Parameters
    ----------
    path, progress : Path or str, callable, optional
        As of `assess_record`.

    Examples
    --------
    Put the items of acceptance of a record together::

        accept_record("visit.toml")
    """
    record = find_record(Path(path))
    seen = EvaluatedVisit.of_record(record, progress=progress)
    files, _ = hash_record(seen.visit, record)
    return _acceptance(seen), files


def _acceptance(seen: EvaluatedVisit) -> Acceptance:
    """The form after re-roping."""
    return accept_set(
        seen.visit.checks,
        lift=seen.visit.lift,
        rope_set=seen.visit.rope_set,
        assessments=[one.assessment for one in seen.each()],
    )


def _springs(seen: EvaluatedVisit) -> SpringCheck | None:
    """The last spring lengths, held against what does not rest on them."""
    with_springs = seen.each(of=SpringReading)
    if not with_springs:
        return None
    found = springs_of(seen, with_springs[-1].series).outcome
    return None if isinstance(found, Refusal) else found


def _printed(assessed: Assessed, choice: RuleChoice) -> Assessment:
    """The same measurement by the rule that was asked for."""
    rule = choice.apply(assessed.visit.rule)
    if rule == assessed.visit.rule:
        return assessed.assessment
    again = assess_set(assessed.assessment.measurement, rule)
    notes = dict.fromkeys((*again.notes, *assessed.assessment.notes))
    return replace(again, notes=tuple(notes))


def _times(files: Sequence[FileEvidence], folder: Path) -> tuple[tuple[str, str], ...]:
    """When each file was last written, in universal time."""
    written = {
        file.path: dt.datetime.fromtimestamp(path.stat().st_mtime, dt.UTC)
        for file in files
        if (path := folder / file.path).exists()
    }
    return tuple((name, f"{at:%Y-%m-%d %H:%M:%S} UTC") for name, at in written.items())


def _allowance_table(visit: Visit, folder: Path) -> allowances.AllowanceTable | None:
    """The allowance table that a record names, in the catalogue or a file."""
    allowance = visit.allowance
    if not allowance.table and not allowance.file:
        return None
    tables = allowances.allowance_tables()
    if allowance.file:
        try:
            text = (folder / allowance.file).read_text(encoding="utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise FileFormatError(
                f"{allowance.file}: the allowance table cannot be read; it must be a "
                "text file (UTF-8) beside or below the record"
            ) from error
        tables = read_allowance_tables(text, allowance.file)
        if not allowance.table:
            return tables[0]
    try:
        return allowances.find_allowance_table(allowance.table, tables)
    except InvalidValueError as error:
        raise FileFormatError(f"[allowance] table: {error}") from error


def shown_photos(
    visit: Visit, files: Sequence[FileEvidence], folder: Path
) -> tuple[ShownPhoto, ...]:
    """Read every photo that a record names, each file once; or why it is not shown."""
    sums = {file.path: file.sha256 for file in files}
    captions: dict[str, dict[str, None]] = {}
    for name, *parts in _captions(visit):
        captions.setdefault(name, {})[", ".join(filter(None, parts))] = None
    photos = []
    for name, words in captions.items():
        small = _small_jpeg(folder / name) if name in sums else (b"", "not there")
        photos.append(
            ShownPhoto(
                file=name,
                caption="; ".join(filter(None, words)),
                sha256=sums.get(name, ""),
                jpeg=small[0],
                why_not=small[1],
            )
        )
    return tuple(photos)


def _captions(visit: Visit) -> Iterator[tuple[str, ...]]:
    """Every photo with the parts of what it shows."""
    for photo in visit.photos:
        yield photo.file, photo.shows, photo.by
    for finding in visit.findings:
        rope = f"rope {finding.rope}" if finding.rope else "the set"
        words = f"{finding.kind.value.replace('-', ' ')}, {rope}"
        yield from ((name, words, finding.at, finding.by) for name in finding.photos)
    for check in visit.checks:
        rope = f"rope {check.rope}" if check.rope else ""
        item = check.item.value.replace("-", " ")
        yield from ((name, item, rope, check.by) for name in check.photos)


def _small_jpeg(path: Path) -> tuple[bytes, str]:
    """A photo upright and small, without place and time of the camera; or why not."""
    from PIL import Image, ImageOps

    try:
        if path.stat().st_size > LARGEST:
            return b"", f"larger than {LARGEST // 10**6} MB"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    return b"", "too many pixels"
                opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
                upright = ImageOps.exif_transpose(opened).convert("RGB")
        upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        content = io.BytesIO()
        upright.save(content, "JPEG", quality=80)
    except Exception:  # noqa: BLE001 - whatever a broken picture makes of its reader
        return b"", "no picture that can be shown here"
    return content.getvalue(), ""
